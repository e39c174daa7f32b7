"""Scene folders as the project writes them, and pictures as the libraries want them: RGB, encoded, 0 to 1."""

import json

import cv2
import numpy as np
from PIL import Image

USUAL_PPI = 300  # What lengths in pixels are meant for.


def read(path):
    picture = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if picture is None:
        raise SystemExit(f"{path} is no picture that can be read")
    top = 65535 if picture.dtype == np.uint16 else 255
    order = [2, 1, 0, 3][: picture.shape[2]]
    return picture[..., order].astype(np.float64) / top


def sheet(folder):
    return read(folder / "sheet.png")


def scale(folder):
    """How many times finer than usual the sheet was scanned, by what its file says."""
    with Image.open(folder / "sheet.png") as picture:
        return round(picture.info.get("dpi", (USUAL_PPI,))[0] / USUAL_PPI, 2)


def true_alpha(folder):
    """For the oracle alone: no other method may look at it."""
    return read(folder / "truth.png")[..., 3]


def clicks(folder):
    """Where the painter clicked into pockets of paper: a list of x, y."""
    return [(int(x), int(y)) for x, y in json.loads((folder / "pockets.json").read_text())]


def write_art(path, color, alpha):
    """Straight alpha at 16 bits a channel, since the last bits of alpha matter on pale paint."""
    art = np.dstack([color[..., ::-1], alpha])
    path.parent.mkdir(parents=True, exist_ok=True)
    if not cv2.imwrite(str(path), np.round(np.clip(art, 0, 1) * 65535).astype(np.uint16)):
        raise SystemExit(f"{path} cannot be written")
