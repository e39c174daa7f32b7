"""Contact sheets of lifted paintings.

    python3 sheets.py SCANS LIFTED OUT

SCANS is a folder of scans; LIFTED holds a PNG of the same name for each of them; OUT gets sheet-1.jpg, sheet-2.jpg and so on,
ten paintings to a sheet. Needs pillow and numpy.

From left to right: the scan; the lifted picture on black; on white; on the ground that shows the worst; and the place with the most
edge, pixel for pixel, on black. The ground that shows the worst is the one against which the pixels between clear and opaque stand
out most. Everything is laid on its ground in sRGB values, as viewers do.
"""

import sys
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont, ImageOps

GROUNDS = {"black": (0, 0, 0), "white": (255, 255, 255), "#123F49": (0x12, 0x3F, 0x49), "#E8A0B0": (0xE8, 0xA0, 0xB0)}
TO_A_SHEET = 10
CELL = 168
CROP = 288
GAP = 4
CAPTION = 16
QUALITY = 28

Image.MAX_IMAGE_PIXELS = None


def scan_of(path):
    return ImageOps.exif_transpose(Image.open(path)).convert("RGB")


def lay(art, ground):
    below = Image.new("RGBA", art.size, tuple(ground) + (255,))
    return Image.alpha_composite(below, art).convert("RGB")


def worst_ground(art):
    """The ground with the greatest mean contrast of half-clear pixels; (name, color)."""
    pixels = np.asarray(art)
    alpha = pixels[..., 3].astype(np.float32) / 255
    between = (alpha > 0.02) & (alpha < 0.98)
    if not between.any():
        return "black", GROUNDS["black"]
    color, alpha = pixels[between][:, :3].astype(np.float32), alpha[between]
    contrast = {name: float((np.abs(color - ground).mean(axis=1) * alpha).mean()) for name, ground in GROUNDS.items()}
    worst = max(contrast, key=contrast.get)
    return worst, GROUNDS[worst]


def busiest(art, side):
    """The corner of the square in which alpha changes most."""
    alpha = np.asarray(art)[..., 3].astype(np.float64) / 255
    edge = np.zeros_like(alpha)
    edge[:, 1:] += np.abs(np.diff(alpha, axis=1))
    edge[1:] += np.abs(np.diff(alpha, axis=0))
    sums = np.pad(edge.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    high, wide = min(side, alpha.shape[0]), min(side, alpha.shape[1])
    of_squares = sums[high:, wide:] - sums[:-high, wide:] - sums[high:, :-wide] + sums[:-high, :-wide]
    top, left = np.unravel_index(int(of_squares.argmax()), of_squares.shape)
    return int(left), int(top), int(left) + wide, int(top) + high


def fit(picture):
    return ImageOps.contain(picture, (CELL, CROP), Image.Resampling.LANCZOS)


def row(scan_path, lifted_path):
    scan, art = scan_of(scan_path), Image.open(lifted_path).convert("RGBA")
    name, ground = worst_ground(art)
    crop = lay(art.crop(busiest(art, CROP)), GROUNDS["black"])
    cells = [fit(scan), fit(lay(art, GROUNDS["black"])), fit(lay(art, GROUNDS["white"])), fit(lay(art, ground)), crop]
    high = max(cell.height for cell in cells)
    strip = Image.new("RGB", (4 * (CELL + GAP) + CROP, high + CAPTION), (128, 128, 128))
    ImageDraw.Draw(strip).text((2, 2), f"{scan_path.stem}   (fourth: {name})", fill=(255, 255, 255), font=ImageFont.load_default())
    for place, cell in enumerate(cells):
        strip.paste(cell, (place * (CELL + GAP), CAPTION))
    return strip


def main(scans, lifted, out):
    out.mkdir(parents=True, exist_ok=True)
    paths = sorted(path for path in scans.iterdir() if path.suffix.lower() in (".jpg", ".jpeg", ".png"))
    for first in range(0, len(paths), TO_A_SHEET):
        rows = [row(path, lifted / f"{path.stem}.png") for path in paths[first : first + TO_A_SHEET]]
        sheet = Image.new("RGB", (rows[0].width, sum(strip.height + GAP for strip in rows)), (128, 128, 128))
        top = 0
        for strip in rows:
            sheet.paste(strip, (0, top))
            top += strip.height + GAP
        sheet.save(out / f"sheet-{first // TO_A_SHEET + 1}.jpg", quality=QUALITY, optimize=True, progressive=True)


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    main(*map(Path, sys.argv[1:]))
