"""Sure paint, sure paper and a band between, by a simple rule that knows the scan and the clicks but never the truth.

A pixel is likely paint when it lies off the paper by more than a threshold, finely blurred (lines, edges) or broadly
blurred (pale washes). Patches of few pixels are taken for dust. Likely paper that is enclosed by paint counts as paint,
as a reserved white, unless a click lies in it: then it is a pocket. This is what the painter says to barewash as well.

Sure paint is what lies BAND pixels or more inside, and the spine of whatever is too thin to have an inside. Sure paper is
what lies BAND pixels or more outside, and the neighborhood of each click. All else is for the method to decide.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from skimage.measure import label
from skimage.morphology import remove_small_objects

import paper

# Pixels are those of a scan at 300 ppi; the finely blurred distance alone keeps to those of the scan, as its edges do.
FINE, BROAD = 0.8, 4.0  # Blurs in pixels.
FINE_THRESHOLD, BROAD_THRESHOLD = 14.0, 5.0  # Standard deviations of bare paper.
DUST = 16  # Patches of so many pixels or fewer are no paint.
BAND = 6  # Pixels to either side of an outline.
SPINE = 0.97  # The spine is what reaches this share of the greatest contrast within the band.
CLICK = 2  # Pixels around a click that are paper for sure.


@dataclass
class Known:
    """What is known of a sheet before a method begins."""

    sheet: np.ndarray
    inside: np.ndarray
    distance: np.ndarray
    paint: np.ndarray
    trimap: np.ndarray
    clicks: list
    scale: float


def round_brush(radius):
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))


def far_from(mask):
    """Distance in pixels to the nearest pixel of the mask."""
    return cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)


def broad_distance(residual, bare, strong, sigma):
    """The broadly blurred distance away from strong paint, whose blur would reach over the paper around it."""
    kept = np.where(strong[..., None], 0, residual)
    reach = far_from(strong) > 1.5 * sigma
    return np.where(reach, paper.distance(kept, bare & reach, sigma), 0)


def opened(paint, clicks):
    """Bare paper that reaches the border or holds a click; all else is paint."""
    regions = label(~paint, connectivity=1)
    height, width = paint.shape
    free = set(np.unique(np.concatenate([regions[0], regions[-1], regions[:, 0], regions[:, -1]])))
    for x, y in clicks:
        free |= set(np.unique(regions[max(y - CLICK, 0) : y + CLICK + 1, max(x - CLICK, 0) : x + CLICK + 1]))
    free.discard(0)
    return ~np.isin(regions, sorted(free))


def known(sheet, clicks, scale):
    band, dust = round(BAND * scale), round(DUST * scale**2)
    inside = paper.inside_margin(sheet.shape[:2])
    field, bare = paper.fitted(sheet, inside)
    residual = np.where(inside[..., None], sheet - field, 0)
    fine = np.where(inside, paper.distance(residual, bare, FINE), 0)
    strong = fine > FINE_THRESHOLD
    strong = remove_small_objects(strong, max_size=dust)
    broad = broad_distance(residual, bare, cv2.dilate(strong.astype(np.uint8), round_brush(2)) > 0, BROAD * scale)
    paint = (strong | (broad > BROAD_THRESHOLD)) & inside
    paint = opened(remove_small_objects(paint, max_size=dust), clicks)
    contrast = np.linalg.norm(paper.blurred(residual, FINE), axis=2)
    greatest = cv2.dilate(contrast, round_brush(band))
    deep = far_from(~paint) > band
    sure_paint = deep | (paint & (contrast >= SPINE * greatest) & (far_from(deep) > 2 * band))
    sure_paper = far_from(paint) > band
    for x, y in clicks:
        sure_paper[max(y - CLICK, 0) : y + CLICK + 1, max(x - CLICK, 0) : x + CLICK + 1] = True
    trimap = np.where(sure_paper | ~inside, 0.0, np.where(sure_paint, 1.0, 0.5))
    return Known(sheet, inside, fine, paint, trimap, clicks, scale)
