"""Reads every file of some folders with barewash and with reference readers, and tells how far apart the pixels are.

    cargo build --release --example read_scan
    python3 tests/reference/formats.py target/release/examples/read_scan FOLDER [FOLDER ...] > tests/reference/FORMATS.md

A FOLDER holds folders of scans; in those whose name ends with `_broken` a file may be refused, but must be refused with a sentence.
Of files that bear the same name in the same folder the first is taken. Needs `formats-requirements.txt` (a virtual environment
outside of the project).

What is stored is read by tifffile with imagecodecs (TIFF but for palettes and luma), by libpng by way of imagecodecs (PNG of 16 bits
in color, of which Pillow takes the upper 8) and by Pillow (all else). What follows is done here, as barewash documents it where a
format leaves the choice to the reader:

- What is see-through is laid on white in the file's own encoding, before the colors are converted. PNG leaves it open in what
  encoding a picture is laid on a ground that the file does not state; white is white in all of them.
- Profiles and L*a*b* go through Little CMS by way of imagecodecs in 16 bits or floating point, relative colorimetric with black point
  compensation, and without its shortcuts: with them it resamples a table over all colors, which is up to 9 counts off on L*a*b*.
- Inks without a profile leave (1 - ink) (1 - black) of the light.
- A picture is turned as it says. Pillow has turned a TIFF by itself by then, and lays rows of the wrong length where it is not packed
  and lies on its side; so tifffile reads these.

Of a JPEG every stored channel is read alone besides, as a gray picture of the same coefficients, and compared with the transform of
ITU-T T.81, A.3.3, in double precision. Decoders may round there, where color is smoothed, and where it is converted, so two right
ones differ by several counts in color.
"""

import json
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
from typing import NamedTuple

import imagecodecs
import jpeglib
import numpy as np
import tifffile
from PIL import Image, ImageCms

KINDS = {".tif", ".tiff", ".png", ".jpg", ".jpeg", ".bmp", ".webp"}
Image.MAX_IMAGE_PIXELS = None
NO_CACHE, NO_SHORTCUTS, BLACK_POINT, RELATIVE = 0x40, 0x100, 0x2000, 1

IN_JPEG = "JPEG in TIFF: the same decoder as for JPEG files, whose channels are held to a count there."
TWICE = "8 bits, rounded when laid on white and once more when converted, by a curve that is steep near black."
# Why a file is refused, or how many counts it may be off, and why.
REFUSED = {"jpeg/apart-in-part.jpg": "some channels together and others apart: no program is known to write such files."}
OFF = {
    **dict.fromkeys((f"png/{name}08.png" for name in ("basi4a", "basn4a", "basn6a", "bgai4a", "bgan6a", "bgwn6a")), (1.3, TWICE)),
    "tiff/c_tif-rgb-1res-64x56x8-striped-jpeg.tif": (1.1, IN_JPEG),
    "tiff/p_tiff_strip_cmyk_jpeg.tif": (2.1, IN_JPEG),
    "tiff/p_tiff_strip_ycbcr_jpeg_2x2_sampling.tif": (4.1, IN_JPEG),
    "tiff/quad-tile.jpg.tiff": (4.1, IN_JPEG),
}

MEASURED = """\
JPEGs in color, measured once in double precision, with color smoothed between the centers of pixels as both decoders do: where four
pixels share their color barewash is up to 3.4 counts off (0.50 to 0.61 in the mean) and Pillow up to 2.7 (0.44 to 0.50), since the
decoder of barewash rounds between smoothing downwards and across, the other only after; without smoothing both are up to 1.8 off.
"""


class Stored(NamedTuple):
    """A picture as stored."""

    values: np.ndarray  # height x width x channels, 0..1; of Lab as numbers
    kind: str  # gray, rgb, cmyk or lab
    alpha: str | None  # straight or multiplied: whether a channel of opacity follows
    profile: bytes | None
    power: float | None  # of a sample that its light is, where that is stated
    turned: int  # the number of its orientation


def of_lcms(profile):
    return ImageCms.ImageCmsProfile(ImageCms.createProfile(profile)).tobytes()


def encoded(light):
    """sRGB of linear light (IEC 61966-2-1)."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055)


def by_profile(values, kind, profile):
    """Encoded sRGB 0..1; `None` where the profile does not fit."""
    flags = NO_CACHE | NO_SHORTCUTS | BLACK_POINT
    if kind == "lab":
        wide = np.ascontiguousarray(values, np.float64)
        out = imagecodecs.cms_transform(
            wide, of_lcms("LAB"), of_lcms("sRGB"), colorspace="lab", outcolorspace="rgb", outdtype=np.float64, intent=RELATIVE, flags=flags
        )
        return np.clip(out, 0, 1)
    wide = np.ascontiguousarray(np.round(values * 65535).astype(np.uint16))
    wide = wide[..., 0] if kind == "gray" else wide
    try:
        out = imagecodecs.cms_transform(
            wide, profile, of_lcms("sRGB"), colorspace=kind, outcolorspace="rgb", outdtype=np.uint16, intent=RELATIVE, flags=flags
        )
    except (imagecodecs.CmsError, ValueError):
        return None
    return out.astype(np.float64) / 65535


def upright(pixels, number):
    """The picture of an orientation (TIFF 6.0, Orientation) as it is to be seen."""
    pixels = pixels.transpose(1, 0, 2) if number >= 5 else pixels
    if number in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return pixels[::-1] if number in (3, 4, 7, 8) else pixels


def shown(stored):
    """Encoded sRGB 0..1, opaque and upright."""
    colors = {"gray": 1, "rgb": 3, "cmyk": 4, "lab": 3}[stored.kind]
    values = stored.values[..., :colors]
    if stored.alpha:
        alpha = stored.values[..., colors : colors + 1]
        values = np.minimum(values + 1 - alpha, 1) if stored.alpha == "multiplied" else values * alpha + 1 - alpha
    out = by_profile(values, stored.kind, stored.profile) if stored.profile or stored.kind == "lab" else None
    if out is None and stored.kind == "cmyk":
        out = (1 - values[..., :3]) * (1 - values[..., 3:])
    if out is None:
        out = np.repeat(values, 3, axis=2) if colors == 1 else values
        if stored.power and abs(stored.power - 2.2) > 0.05:
            out = encoded(out**stored.power)
    return upright(out, stored.turned)


def by_pillow(path):
    image = Image.open(path)
    image.load()
    turned = 1 if image.format == "TIFF" else image.getexif().get(0x112, 1)
    gamma = image.info.get("gamma")
    power = 1 / gamma if gamma and "srgb" not in image.info else None
    profile = image.info.get("icc_profile")
    if image.mode in ("I;16", "I;16B", "I;16L", "I", "F"):
        most = 1 if image.mode == "F" else 65535
        return Stored(np.clip(np.asarray(image, np.float64) / most, 0, 1)[..., None], "gray", None, profile, power, turned)
    if image.mode in ("1", "L", "LA"):
        kind, mode = "gray", "LA" if image.mode == "LA" or "transparency" in image.info else "L"
    elif image.mode == "CMYK":
        kind, mode = "cmyk", "CMYK"
    else:
        kind, mode = "rgb", "RGBA" if "transparency" in image.info or image.mode in ("RGBA", "PA") else "RGB"
    values = np.asarray(image.convert(mode), np.float64) / 255
    values = values[..., None] if values.ndim == 2 else values
    return Stored(values, kind, "straight" if mode in ("LA", "RGBA") else None, profile, power, turned)


def by_libpng(path):
    """All 16 bits of a PNG in color, of which Pillow takes the upper 8; `None` for other PNGs."""
    head = path.read_bytes()[:26]
    if head[24:26] not in (b"\x10\x02", b"\x10\x04", b"\x10\x06"):
        return None
    values = imagecodecs.png_decode(path.read_bytes()).astype(np.float64)
    with Image.open(path) as image:
        image.load()
        as_told = by_pillow(path)
        clear = image.info.get("transparency")
    if values.shape[2] == 3 and clear is not None:
        opaque = (values != np.array(clear, np.float64)).any(axis=2, keepdims=True)
        values = np.concatenate([values, opaque * 65535.0], axis=2)
    alpha = "straight" if values.shape[2] in (2, 4) else None
    kind = "gray" if values.shape[2] < 3 else "rgb"
    return as_told._replace(values=values / 65535, kind=kind, alpha=alpha)


def by_tifffile(path):
    """The largest page; `None` for what Pillow does better."""
    with tifffile.TiffFile(path) as file:
        page = max(file.pages, key=lambda p: p.imagewidth * p.imagelength)
        photometric = int(page.photometric)
        if photometric not in (0, 1, 2, 5, 8, 9):
            return None
        bits = page.bitspersample if isinstance(page.bitspersample, int) else page.bitspersample[0]
        data = page.asarray()
        if data.ndim == 3 and int(page.planarconfig) == 2:
            data = np.moveaxis(data, 0, -1)
        data = data[..., None] if data.ndim == 2 else data
        tag = page.tags.get("Orientation")
        profile = page.tags.get("InterColorProfile")
        profile, turned = profile and bytes(profile.value), int(tag.value) if tag else 1
        kind = {2: "rgb", 5: "cmyk", 8: "lab", 9: "lab"}.get(photometric, "gray")
        if kind == "lab":
            axes = data[..., 1:3].view(np.int8) if photometric == 8 else data[..., 1:3].astype(np.float64) - 128
            if bits != 8:
                return None
            return Stored(np.concatenate([data[..., :1] * (100 / 255), axes], axis=2), kind, None, None, None, turned)
        values = np.clip(data.astype(np.float64) / (1.0 if data.dtype.kind == "f" else float((1 << bits) - 1)), 0, 1)
        if photometric == 0:
            values[..., :1] = 1 - values[..., :1]
        extra = [int(v) for v in page.extrasamples]
        colors = {"gray": 1, "rgb": 3, "cmyk": 4}[kind]
        alpha = {1: "multiplied", 2: "straight"}.get(extra[0]) if extra and kind != "cmyk" and values.shape[2] > colors else None
        return Stored(values, kind, alpha, profile, None, max(turned, 1))


def too_long(*_):
    raise TimeoutError


def reference(path):
    """The name of the reader, and the pixels or why there are none. Of broken files some are read forever."""
    signal.signal(signal.SIGALRM, too_long)
    signal.alarm(20)
    try:
        return by_any(path)
    except TimeoutError:
        return "reads forever", None
    finally:
        signal.alarm(0)


def by_any(path):
    first = {".tif": ("tifffile", by_tifffile), ".tiff": ("tifffile", by_tifffile), ".png": ("libpng", by_libpng)}
    why = []
    for name, read in [*([first[path.suffix.lower()]] if path.suffix.lower() in first else []), ("Pillow", by_pillow)]:
        try:
            stored = read(path)
            if stored is not None:
                return name, shown(stored)
        except TimeoutError:
            raise
        except Exception as error:  # noqa: BLE001 (whatever a reader says of a broken file is its verdict)
            why.append(type(error).__name__)
    return f"refused ({', '.join(why)})", None


def ours(program, path, raw):
    done = subprocess.run([program, path, raw], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        return {"error": "CRASH", "message": done.stderr.strip().split("\n")[0]}, None
    said = json.loads(done.stdout)
    if "error" in said:
        return said, None
    kind = np.dtype("<u2") if said["bits"] == 16 else np.uint8
    pixels = np.fromfile(raw, kind).reshape(said["height"], said["width"], 3).astype(np.float64)
    return said, pixels / (65535 if said["bits"] == 16 else 255)


def drawn(coefficients, steps):
    """A channel of a JPEG in double precision, 0..255."""
    k, n = np.meshgrid(np.arange(8), np.arange(8), indexing="ij")
    waves = np.cos((2 * n + 1) * k * np.pi / 16) / 2
    waves[0] /= np.sqrt(2)
    blocks = waves.T @ (coefficients.astype(np.float64) * steps) @ waves + 128
    high, wide = blocks.shape[:2]
    return np.clip(blocks.transpose(0, 2, 1, 3).reshape(high * 8, wide * 8), 0, 255)


def channels(program, path, scratch):
    """How far the channels of a JPEG, each read alone, are from double precision in counts: the most; `None` where it is not known."""
    try:
        whole = jpeglib.read_dct(str(path))
        most = 0.0
        for name, steps in zip(("Y", "Cb", "Cr", "K"), whole.quant_tbl_no):
            coefficients = np.ascontiguousarray(getattr(whole, name))
            steps = np.ascontiguousarray(whole.qt[steps], np.uint16)
            gray = jpeglib.from_dct(Y=coefficients, qt=steps[None])
            gray.height, gray.width = coefficients.shape[0] * 8, coefficients.shape[1] * 8
            gray.write_dct(str(scratch / "alone.jpg"))
            _, pixels = ours(program, scratch / "alone.jpg", scratch / "alone.raw")
            most = max(most, np.abs(pixels[..., 0] * 255 - drawn(coefficients, steps)).max())
        return most
    except Exception:  # noqa: BLE001 (whatever is said of a file that cannot be taken apart, it is not known)
        return None


def ways_round(pixels):
    """How far the files of each set of one picture stored several ways round are from each other, as lines."""
    sets = {}
    for name, found in pixels.items():
        match = re.search(r"/(.*?orient.*?|Landscape)_([1-8])\.", name)
        if match:
            sets.setdefault(match[1], []).append((name, found))
    for title, files in sorted(sets.items()):
        (_, first), *others = files
        for name, found in others:
            if found.shape != first.shape:
                yield f"- {name}: {found.shape[1]} x {found.shape[0]}, the first {first.shape[1]} x {first.shape[0]}"
                continue
            apart = [np.abs(turned.astype(int) - first).mean() for turned in (found, found[:, ::-1], found[::-1], found[::-1, ::-1])]
            yield f"- {name}: {apart[0]:.2f}; mirrored or turned {min(apart[1:]):.1f} at least"


def files(folders):
    found = {}
    for folder in folders:
        for path in sorted(p for p in pathlib.Path(folder).rglob("*") if p.suffix.lower() in KINDS):
            found.setdefault(f"{path.parent.name}/{path.name}", path)
    return sorted(found.items())


def listed(title, items):
    if items:
        print(f"{title}:\n\n" + "\n".join(f"- {item}" for item in items) + "\n")


def main(program, *folders):
    rows, unlike, refused, explained, crashes, oriented = [], [], [], [], 0, {}
    worst_channel = 0.0
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        for name, path in files(folders):
            said, pixels = ours(program, path, scratch / "raw")
            reader, wanted = reference(path)
            crashes += said.get("error") == "CRASH"
            if pixels is None:
                verdict = f"{said['error']}: {said['message']}"
                if wanted is not None and not path.parent.name.endswith("_broken"):
                    (explained if name in REFUSED else refused).append(f"{name}: refused; {REFUSED[name]}" if name in REFUSED else name)
                rows.append((name, verdict, reader, ""))
                continue
            verdict = f"{said['width']} x {said['height']}, {said['bits']} bits" + (f" ({', '.join(said['warnings'])})" if said["warnings"] else "")
            if said["bits"] == 8 and re.search("orient|Landscape", name):
                oriented[name] = np.round(pixels * 255).astype(np.uint8)
            apart = ""
            if wanted is not None and wanted.shape != pixels.shape:
                apart = f"size {wanted.shape[1]} x {wanted.shape[0]}"
                unlike.append(f"{name}: {apart}")
            elif wanted is not None:
                off = np.abs(wanted - pixels) * 255
                apart = f"{off.max():.2f} ({off.mean():.3f})"
                alone = channels(program, path, scratch) if path.suffix.lower() in (".jpg", ".jpeg") else None
                if alone is not None:
                    worst_channel = max(worst_channel, alone)
                    apart += f"; channels alone {alone:.2f}"
                if off.max() > 1.001:
                    if alone is not None and alone <= 1 and off.max() <= 4.001 and off.mean() < 0.5:
                        explained.append(f"{name}: {apart}: rounding where color is smoothed and converted.")
                    elif name in OFF and off.max() <= OFF[name][0]:
                        explained.append(f"{name}: {apart}: {OFF[name][1]}")
                    else:
                        unlike.append(f"{name}: {apart}")
            rows.append((name, verdict, reader, apart))
    print("# Files read, and how far from reference readers\n")
    print("Made by `formats.py`, whose head says by what the references are read and how they are laid out, from format suites under")
    print("free licenses; `tests/data/MANIFEST.md` names the sources of those that are kept here. The last column is the largest")
    print("difference, and the mean one, in counts of 8 bits; of a JPEG also the largest of a channel read alone, from double precision.\n")
    print(f"{len(rows)} files; {crashes} crashes; refused though a reference opens them: {len(refused)}; further off than a count: {len(unlike)};")
    print(f"for a stated reason: {len(explained)}. Channels of JPEGs: {worst_channel:.2f} at the most.\n")
    listed("Refused though a reference opens them", refused)
    listed("Further off than a count", unlike)
    listed("Refused, or further off, for a stated reason", explained)
    print(MEASURED)
    print("One picture stored several ways round, each against the first of its set: mean difference in counts. Files of a set were coded")
    print("apart, those of `Landscape` in part from a picture that had been scaled, and each of these bears its own number; so they differ.\n")
    print("\n".join(ways_round(oriented)) + "\n")
    print("| file | barewash | reference | difference |\n|---|---|---|---|")
    for row in rows:
        print("| " + " | ".join(row) + " |")


if __name__ == "__main__":
    main(*sys.argv[1:])
