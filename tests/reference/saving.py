"""Saves a scan in every format and depth by scripts/lift, and has other readers say what is in the files.

    python3 tests/reference/saving.py SCAN

SCAN is any scan that scripts/lift reads, at any resolution; 300 ppi are stated. Pillow, tifffile and imagecodecs read what was saved: pixels (held
against those of the plain PNG of the same depth), resolution, color profile, texts. Where the formats' own commands are on the machine
(COMMANDS), they judge the files too; of those that are not it says so. Prints a line a file and ends with 1 if anything is not as it should be. Needs `formats-requirements.txt` (a
virtual environment outside of the project), and node.
"""

import io
import pathlib
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

import imagecodecs
import numpy as np
import tifffile
from PIL import Image, ImageCms

ROOT = pathlib.Path(__file__).resolve().parents[2]
TITLE, ARTIST, COPYRIGHT = "Tide pool & <shore>", "Zoë of Saltmarsh Row", "© 2026, Saltmarsh Row"
SIGNED = ["--title", TITLE, "--artist", ARTIST, "--copyright", COPYRIGHT, "--profile"]
FORMATS = [(".png", 8), (".png", 16), (".tif", 8), (".tif", 16), (".webp", 8)]
# Exif 2.32, 4.6.4: ImageDescription, Orientation, XResolution, ResolutionUnit, Artist, Copyright.
DESCRIPTION, ORIENTATION, ACROSS, UNIT, PAINTER, NOTICE = 270, 274, 282, 296, 315, 33432
DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"
ITEM = ".//{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li"
Image.MAX_IMAGE_PIXELS = None

FILE = "FILE"

wrong = []
missing = set()


def expect(file, what, found, wanted):
    """Notes what is not as wanted."""
    if found != wanted:
        wrong.append(f"{file.name}: {what} is {found!r}, not {wanted!r}")


def utf8(text):
    """A text that a reader took byte by byte for Latin-1, as EXIF readers may."""
    try:
        return text.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return text


def pixels(file):
    """RGBA by imagecodecs, which reads 16 bits too; of TIFF by tifffile."""
    if file.suffix == ".tif":
        return tifffile.imread(file)
    decode = imagecodecs.png_decode if file.suffix == ".png" else imagecodecs.webp_decode
    return decode(file.read_bytes())


def by_pillow(file, plain, ppi, signed):
    """Pixels where Pillow has 8 bits a channel, and everything beside them."""
    image = Image.open(file)
    image.load()
    expect(file, "mode", image.mode, "RGBA")
    if plain.dtype == np.uint8:
        expect(file, "pixels by Pillow", bool((np.asarray(image) == plain).all()), True)
    if file.suffix != ".webp":
        expect(file, "resolution", [round(float(v), 1) for v in image.info["dpi"]], [ppi, ppi])
    icc = image.info.get("icc_profile")
    expect(file, "profile", bool(icc), signed)
    if icc:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        expect(file, "name of the profile", ImageCms.getProfileDescription(profile).strip(), "sRGB")
        # Little CMS finds sRGB in it: no color moves by more than rounding.
        ramp = np.stack(np.meshgrid(*[np.arange(0, 256, 15, dtype=np.uint8)] * 3), -1).reshape(-1, 18, 3)
        colors = Image.fromarray(np.ascontiguousarray(ramp))
        moved = ImageCms.profileToProfile(colors, profile, ImageCms.createProfile("sRGB"), renderingIntent=1)
        most = int(np.abs(np.asarray(moved).astype(int) - ramp).max())
        expect(file, "counts that colors move by through the profile", most <= 1, True)
    if file.suffix == ".png":
        texts = {key: image.info.get(key) for key in ("Title", "Author", "Copyright")}
        expect(file, "texts", list(texts.values()), [TITLE, ARTIST, COPYRIGHT] if signed else [None] * 3)
    exif = image.getexif()
    if file.suffix == ".webp" or signed:
        expect(file, "resolution in EXIF", (round(float(exif.get(ACROSS, 0)), 1), exif.get(UNIT)), (ppi, 2))
        expect(file, "orientation", exif.get(ORIENTATION), 1)
    if signed:
        expect(file, "texts in EXIF", [utf8(exif.get(tag, "")) for tag in (DESCRIPTION, PAINTER, NOTICE)], [TITLE, ARTIST, COPYRIGHT])
    if file.suffix == ".webp" and signed:
        tree = xml.fromstring(image.info["xmp"])
        found = [tree.find(f".//{DUBLIN_CORE}{name}").find(ITEM).text for name in ("title", "creator", "rights")]
        expect(file, "texts in XMP", found, [TITLE, ARTIST, COPYRIGHT])


def by_tifffile(file, bits):
    """The tags that tell how a TIFF is laid out."""
    with tifffile.TiffFile(file) as tiff:
        expect(file, "pages", len(tiff.pages), 1)
        page = tiff.pages[0]
        found = (page.compression.name, page.predictor.name, page.photometric.name, page.bitspersample, tuple(page.extrasamples))
        expect(file, "layout", found, ("ADOBE_DEFLATE", "HORIZONTAL", "RGB", bits, (tifffile.EXTRASAMPLE.UNASSALPHA,)))
        expect(file, "strips", bool(max(page.databytecounts) < 1 << 19), True)


# What the formats' own commands are asked: the call, and where it writes the picture anew, how that is read. Debian's packages: pngcheck,
# libpng-tools, libtiff-tools, webp.
COMMANDS = {
    ".png": [["pngcheck", "-q"], ["pngfix"]],
    ".tif": [["tiffinfo", "-D"], ["tiffdump"], ["tiffcp", "-c", "none", FILE, "copy.tif"]],
    ".webp": [["webpinfo", "-quiet"], ["dwebp", "-quiet", "-pam", FILE, "-o", "copy.pam"]],
}


def unpacked(file):
    """A picture without packing, as `tiffcp` and `dwebp` write it."""
    if file.suffix == ".tif":
        return tifffile.imread(file)
    head, _, samples = file.read_bytes().partition(b"ENDHDR\n")
    sizes = dict(line.split(b" ", 1) for line in head.splitlines() if b" " in line)
    return np.frombuffer(samples, np.uint8).reshape(int(sizes[b"HEIGHT"]), int(sizes[b"WIDTH"]), 4)


def by_command(file, plain):
    """What the commands say, and the pixels of those that write the picture anew; returns the names of those that are here."""
    here = []
    for command in COMMANDS[file.suffix]:
        if not shutil.which(command[0]):
            missing.add(command[0])
            continue
        here.append(command[0])
        call = [str(file) if part == FILE else str(file.parent / part) if part.startswith("copy.") else part for part in command]
        done = subprocess.run(call if FILE in command else [*call, str(file)], capture_output=True, text=True, errors="replace")
        said = done.stderr.strip() or done.stdout.strip() if done.returncode else done.stderr.strip()
        expect(file, command[0], said, "")
        copy = pathlib.Path(call[-1])
        if copy.name.startswith("copy."):
            expect(file, f"pixels by {command[0]}", bool(np.array_equal(unpacked(copy), plain)), True)
            copy.unlink()
    return here


def main(scan):
    with tempfile.TemporaryDirectory() as folder:
        plain = {}
        for signed in (False, True):
            for ending, bits in FORMATS:
                file = pathlib.Path(folder) / f"{'signed' if signed else 'plain'}-{bits}{ending}"
                call = ["node", str(ROOT / "scripts/lift.mjs"), scan, "-o", str(file), "--bits", str(bits), "--ppi", "300"]
                subprocess.run(call + (SIGNED if signed else []), check=True, stdout=subprocess.DEVNULL)
                found = pixels(file)
                first = plain.setdefault(bits, found)
                expect(file, "pixels", (found.dtype, found.shape, bool((found == first).all())), (first.dtype, first.shape, True))
                by_pillow(file, first, 300.0, signed)
                if ending == ".tif":
                    by_tifffile(file, bits)
                readers = ", ".join(["Pillow", "imagecodecs", *by_command(file, first)])
                print(f"{file.name}: {file.stat().st_size} bytes, read by {readers}")
    if missing:
        print(f"NOT ASKED, since they are not installed: {', '.join(sorted(missing))}")
    print("\n".join(wrong) or "all as it should be")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
