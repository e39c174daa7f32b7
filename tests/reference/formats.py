"""Reads every file of a folder with barewash and with reference readers, and tells how far apart the pixels are.

    cargo build --release --example read_scan
    python3 tests/reference/formats.py target/release/examples/read_scan FOLDER > tests/reference/FORMATS.md

FOLDER holds folders of scans; in those whose name ends with `_broken` a file may be refused, but must be refused with a sentence.
The references are Pillow (with Little CMS for embedded profiles: relative colorimetric, with black point compensation) and, for TIFF
of more than 8 bits, of floating-point numbers or in planes, tifffile with imagecodecs. Needs `formats-requirements.txt` (a virtual
environment outside of the project).
"""

import io
import json
import pathlib
import re
import signal
import subprocess
import sys
import tempfile

import numpy as np
import tifffile
from PIL import Image, ImageCms, ImageOps

KINDS = {".tif", ".tiff", ".png", ".jpg", ".jpeg", ".bmp", ".webp"}
Image.MAX_IMAGE_PIXELS = None


def on_white(pixels):
    """RGB 0..1 of straight RGBA 0..1."""
    alpha = pixels[..., 3:]
    return pixels[..., :3] * alpha + 1 - alpha


def by_pillow(path):
    image = Image.open(path)
    image.load()
    icc = image.info.get("icc_profile")
    image = ImageOps.exif_transpose(image)
    if image.mode in ("I;16", "I;16B", "I;16L", "I"):
        gray = np.asarray(image).astype(np.float64) / 65535
        stated = image.info.get("gamma")
        if stated and "srgb" not in image.info and abs(1 / stated - 2.2) > 0.05:
            gray = encoded(gray ** (1 / stated))
        return np.repeat(gray[..., None], 3, axis=2)
    if image.mode == "F":
        return np.repeat(np.clip(np.asarray(image, np.float64), 0, 1)[..., None], 3, axis=2)
    if image.mode == "LAB":
        lab, srgb = ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB")
        image = ImageCms.profileToProfile(image, lab, srgb, renderingIntent=1, outputMode="RGB")
    elif icc and image.mode in ("RGB", "L", "CMYK"):
        try:
            image = ImageCms.profileToProfile(
                image,
                ImageCms.ImageCmsProfile(io.BytesIO(icc)),
                ImageCms.createProfile("sRGB"),
                renderingIntent=1,
                outputMode="RGB",
                flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
            )
        except ImageCms.PyCMSError:
            pass
    pixels = np.asarray(image.convert("RGBA")).astype(np.float64) / 255
    stated = image.info.get("gamma")
    if stated and not icc and "srgb" not in image.info and abs(1 / stated - 2.2) > 0.05:
        pixels[..., :3] = encoded(pixels[..., :3] ** (1 / stated))
    return on_white(pixels)


def encoded(light):
    """sRGB of linear light (IEC 61966-2-1)."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def by_tifffile(path):
    """Gray or RGB of whole numbers or of 0..1, the largest page; `None` for what Pillow does as well or better."""
    with tifffile.TiffFile(path) as file:
        page = max(file.pages, key=lambda p: p.imagewidth * p.imagelength)
        photometric = int(page.photometric)
        if photometric not in (0, 1, 2) or page.tags.get("Orientation") and page.tags["Orientation"].value not in (1, None):
            return None
        bits = page.bitspersample if isinstance(page.bitspersample, int) else page.bitspersample[0]
        data = page.asarray()
        if data.ndim == 3 and int(page.planarconfig) == 2:
            data = np.moveaxis(data, 0, -1)
        if data.ndim == 2:
            data = data[..., None]
        most = 1.0 if data.dtype.kind == "f" else float((1 << bits) - 1)
        values = np.clip(data.astype(np.float64) / most, 0, 1)
        if photometric == 0:
            values[..., :1] = 1 - values[..., :1]
        colors = 3 if photometric == 2 else 1
        extra = [int(v) for v in page.extrasamples]
        out = values[..., :colors] if colors == 3 else np.repeat(values[..., :1], 3, axis=2)
        if extra and extra[0] in (1, 2) and values.shape[2] > colors:
            alpha = values[..., colors : colors + 1]
            out = np.minimum(out + 1 - alpha, 1) if extra[0] == 1 else out * alpha + 1 - alpha
        return out


def too_long(*_):
    raise TimeoutError


def reference(path):
    """The name of the reader, and the pixels or why there are none. Of broken files some are read forever."""
    signal.signal(signal.SIGALRM, too_long)
    signal.alarm(20)
    try:
        return by_either(path)
    except TimeoutError:
        return "reads forever", None
    finally:
        signal.alarm(0)


def by_either(path):
    if path.suffix.lower() in (".tif", ".tiff"):
        try:
            pixels = by_tifffile(path)
            if pixels is not None:
                return "tifffile", pixels
        except TimeoutError:
            raise
        except Exception as why:  # noqa: BLE001 (whatever a reader says of a broken file is its verdict)
            first = f"{type(why).__name__}"
        else:
            first = "no"
    else:
        first = "no"
    try:
        return "Pillow", by_pillow(path)
    except TimeoutError:
        raise
    except Exception as why:  # noqa: BLE001
        return f"refused ({first}, {type(why).__name__})", None


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


def main(program, folder):
    rows, unlike, refused, crashes, oriented = [], [], [], 0, {}
    with tempfile.TemporaryDirectory() as scratch:
        raw = pathlib.Path(scratch) / "raw"
        for path in sorted(p for p in pathlib.Path(folder).rglob("*") if p.suffix.lower() in KINDS):
            name = f"{path.parent.name}/{path.name}"
            said, pixels = ours(program, path, raw)
            reader, wanted = reference(path)
            crashes += said.get("error") == "CRASH"
            if pixels is None:
                verdict = f"{said['error']}: {said['message']}"
                if wanted is not None and not path.parent.name.endswith("_broken"):
                    refused.append(name)
                rows.append((name, verdict, reader, ""))
                continue
            verdict = f"{said['width']} x {said['height']}, {said['bits']} bits" + (f" ({', '.join(said['warnings'])})" if said["warnings"] else "")
            if said["bits"] == 8 and re.search("orient|Landscape", name):
                oriented[name] = np.round(pixels * 255).astype(np.uint8)
            apart = ""
            if wanted is not None:
                if wanted.shape != pixels.shape:
                    apart = f"size {wanted.shape[1]} x {wanted.shape[0]}"
                else:
                    off = np.abs(wanted - pixels) * 255
                    apart = f"{off.max():.2f} ({off.mean():.3f})"
                if wanted.shape != pixels.shape or off.max() > 1.001:
                    unlike.append((name, apart))
            rows.append((name, verdict, reader, apart))
    print("# Files read, and how far from reference readers\n")
    print("Made by `formats.py`. The last column is the largest difference, and the mean one, in counts of 8 bits.\n")
    print(f"{len(rows)} files; {crashes} crashes; refused though a reference opens them: {len(refused)}; further off than a count: {len(unlike)}.\n")
    for title, items in (("Refused though a reference opens them", refused), ("Further off than a count", [f"{n}: {a}" for n, a in unlike])):
        if items:
            print(f"{title}:\n\n" + "\n".join(f"- {item}" for item in items) + "\n")
    print("One picture stored several ways round, each against the first of its set: mean difference in counts. Files of a set were coded")
    print("apart, those of `Landscape` in part from a picture that had been scaled, and each of these bears its own number; so they differ.\n")
    print("\n".join(ways_round(oriented)) + "\n")
    print("| file | barewash | reference | difference |\n|---|---|---|---|")
    for row in rows:
        print("| " + " | ".join(row) + " |")


if __name__ == "__main__":
    main(*sys.argv[1:])
