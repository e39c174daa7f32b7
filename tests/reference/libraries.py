"""Lifts truth scenes by general-purpose libraries, so that barewash can be measured beside them. Needs the network once:

    python3 -m venv ELSEWHERE && ELSEWHERE/bin/pip install -r tests/reference/requirements.txt
    cargo run --release --example truth_table -- --seeds 11..20 --write SCENES
    ELSEWHERE/bin/python tests/reference/libraries.py SCENES OUT [METHOD ...]

ELSEWHERE, SCENES and OUT lie outside the project. Each folder SCENES/SEED holds sheet.png, truth.png and pockets.json; each
art goes to OUT/METHOD/SEED.png. TABLE.md holds what was measured, and how.

paper.py and trimap.py say what every method is told beforehand, methods.py what each does with it. Of all of them the
foreground is estimated alike: T. Germer, T. Uelwer, S. Conrad and S. Harmeling, "Fast multi-level foreground
estimation", 2020. Nothing is random but the start of GrabCut, whose seed is set.
"""

import pathlib
import sys
import time

import cv2
from pymatting import estimate_foreground_ml

sys.dont_write_bytecode = True  # Nothing is left in the project's folder.

import scenes
import trimap
from methods import METHODS


def main():
    if len(sys.argv) < 3:
        raise SystemExit(f"usage: libraries.py SCENES OUT [METHOD ...]; methods: {' '.join(METHODS)}")
    source, out = (pathlib.Path(argument) for argument in sys.argv[1:3])
    names = sys.argv[3:] or list(METHODS)
    for name in names:
        if name not in METHODS:
            raise SystemExit(f"{name} is no method; methods: {' '.join(METHODS)}")
    # One thread, so that sums have one order.
    cv2.setNumThreads(1)
    folders = [folder for folder in source.iterdir() if (folder / "sheet.png").is_file()]
    if not folders:
        raise SystemExit(f"no scene in {source}")
    for folder in sorted(folders, key=lambda f: (len(f.name), f.name)):
        known = trimap.known(scenes.sheet(folder), scenes.clicks(folder), scenes.scale(folder))
        for name in names:
            began = time.process_time()
            alpha = METHODS[name](known, scenes.true_alpha(folder))
            color = estimate_foreground_ml(known.sheet, alpha)
            scenes.write_art(out / name / f"{folder.name}.png", color, alpha)
            print(f"{folder.name} {name}: {time.process_time() - began:.1f} s", flush=True)


main()
