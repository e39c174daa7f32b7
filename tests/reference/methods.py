"""Alpha by general-purpose libraries, each with a set-up that is fair to it: all get the same trimap, crop and clicks, and
what their papers and manuals leave open was chosen by the truth on other scenes than those of the table, for the least error
of alpha and color near edges.

closed_form     A. Levin, D. Lischinski and Y. Weiss, "A closed-form solution to natural image matting", 2008
nearest         Q. Chen, D. Li and C.-K. Tang, "KNN matting", 2013
learning        Y. Zheng and C. Kambhamettu, "Learning based digital matting", 2009
grab_cut        C. Rother, V. Kolmogorov and A. Blake, "GrabCut: interactive foreground extraction using iterated graph
                cuts", 2004
guided_filter   K. He, J. Sun and X. Tang, "Guided image filtering", 2013
flood_fill      no paper: what lies within a tolerance of the paper and touches it
"""

import functools
import sys

import cv2
import numpy as np
from pymatting import estimate_alpha_cf, estimate_alpha_knn, estimate_alpha_lbdm, ichol, jacobi
from skimage.segmentation import flood

import paper

# Incomplete Cholesky: what is smaller is discarded; and no more than this many entries are kept, about a gigabyte.
DISCARD, ENTRIES = 1e-4, 60_000_000

ITERATIONS = 2000  # Of the conjugate gradients.
LEARNING_EPSILON = CLOSED_EPSILON = 1e-6  # Regularization; the libraries' own 1e-7 takes tooth for paint.
SOFT = 1.0  # Pixels of blur of an edge that a method leaves hard: a soft edge about 1 pixel wide.
GUIDE_RADIUS, GUIDE_EPSILON = 16, 1e-5  # Pixels at 300 ppi; variance of a guide from 0 to 1.
TOLERANCES = [4, 5, 6, 7, 8, 10, 12, 15, 20, 30, 45]  # Standard deviations of bare paper.


def preconditioned(estimate, known, **laplacian):
    """Solves by incomplete Cholesky; where that fails, by the diagonal alone, and says so."""
    settings = {"laplacian_kwargs": laplacian, "cg_kwargs": {"maxiter": ITERATIONS}}
    cholesky = functools.partial(ichol, discard_threshold=DISCARD, max_nnz=ENTRIES)
    try:
        return estimate(known.sheet, known.trimap, preconditioner=cholesky, **settings)
    except ValueError as failure:
        print(f"{estimate.__name__}: {failure}; the diagonal alone serves instead", file=sys.stderr)
        return estimate(known.sheet, known.trimap, preconditioner=jacobi, **settings)


def closed_form(known, _):
    return preconditioned(estimate_alpha_cf, known, epsilon=CLOSED_EPSILON)


def learning(known, _):
    return preconditioned(estimate_alpha_lbdm, known, epsilon=LEARNING_EPSILON)


def nearest(known, _):
    # The library's own choice of preconditioner: its system is no small band, so a Cholesky factor would fill up.
    return estimate_alpha_knn(known.sheet, known.trimap, cg_kwargs={"maxiter": ITERATIONS})


def soft(mask):
    return paper.blurred(mask.astype(np.float64), SOFT)


def grab_cut(known, _):
    """OpenCV's has no matting of the border, so its hard mask gets a soft edge. It takes 8 bits only."""
    cv2.setRNGSeed(1)
    picture = np.round(known.sheet[..., ::-1] * 255).astype(np.uint8)
    likely = np.where(known.paint, cv2.GC_PR_FGD, cv2.GC_PR_BGD)
    mask = np.where(known.trimap == 1, cv2.GC_FGD, np.where(known.trimap == 0, cv2.GC_BGD, likely)).astype(np.uint8)
    cv2.grabCut(picture, mask, None, np.zeros((1, 65)), np.zeros((1, 65)), 5, cv2.GC_INIT_WITH_MASK)
    return soft((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD))


def guided_filter(known, _):
    """The mask of likely paint, filtered with the scan as guide; what the trimap is sure of stays.

    The guide goes from 0 to 255: from 0 to 1 the determinants of flat windows are so small that OpenCV passes over them.
    """
    guide, mask = (known.sheet * 255).astype(np.float32), known.paint.astype(np.float32)
    alpha = np.clip(cv2.ximgproc.guidedFilter(guide, mask, round(GUIDE_RADIUS * known.scale), GUIDE_EPSILON * 255**2), 0, 1)
    return np.where(known.trimap == 0.5, alpha, known.trimap)


def flood_fill(known, truth):
    """From the margin and from each click over whatever lies off the paper by no more than a tolerance.

    An oracle: of several tolerances that one is taken whose alpha is nearest the truth, sheet by sheet.
    """
    distance = known.distance.copy()
    starts = [(0, 0)] + [(y, x) for x, y in known.clicks]
    for start in starts:
        distance[start] = 0
    best = None
    for tolerance in TOLERANCES:
        bare = np.zeros(distance.shape, bool)
        for start in starts:
            bare |= flood(distance, start, tolerance=tolerance, connectivity=1)
        alpha = soft(~bare)
        error = np.abs(alpha - truth).sum()
        if best is None or error < best[0]:
            best = (error, alpha)
    return best[1]


METHODS = {
    "closed-form": closed_form,
    "nearest-neighbors": nearest,
    "learning-based": learning,
    "grab-cut": grab_cut,
    "guided-filter": guided_filter,
    "flood-fill": flood_fill,
}
