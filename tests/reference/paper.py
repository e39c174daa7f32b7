"""How far each pixel lies off bare paper, measured on the scan alone. Every method gets the same answer to begin with.

1. What lies within MARGIN of the picture's border is taken as bare: the edge of the sheet, its shadow and the scanner's
   lid are given to the libraries for free, since none of them has a notion of a sheet.
2. The paper's color is a polynomial of degree 2 in x and y for each channel. It begins as the most frequent color and is
   fitted by least squares to the pixels near it, ever more strictly.
3. The residual, blurred by some pixels, is whitened by the covariance of what was taken for bare paper, outliers left
   out by the median absolute deviation. Its length is the distance, in standard deviations of bare paper.
"""

import cv2
import numpy as np

# Share of the shorter side. The sheets of the scenes end within it, and no paint reaches into it.
MARGIN = 0.045

# A pixel belongs to bare paper in the fit when no channel is off by more (encoded): once for each round.
TOLERANCES = [0.06, 0.04, 0.03, 0.02, 0.02]

# Rounding to 8 bits alone gives this deviation; no paper is trusted to be smoother.
LEAST_DEVIATION = 1 / 255 / np.sqrt(12)


def inside_margin(shape):
    height, width = shape
    margin = round(MARGIN * min(height, width))
    inside = np.zeros(shape, bool)
    inside[margin : height - margin, margin : width - margin] = True
    return inside


def blurred(picture, sigma):
    return cv2.GaussianBlur(picture, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)


def fitted(sheet, inside):
    """The paper's color at each pixel, and which pixels it was fitted to."""
    height, width = inside.shape
    smooth = blurred(sheet, 1.5)
    steps = (smooth * 40).astype(int)
    codes = steps @ [1, 64, 64 * 64]
    colors, counts = np.unique(codes[inside], return_counts=True)
    most = (codes == colors[counts.argmax()]) & inside
    paper = np.broadcast_to(np.median(smooth[most], axis=0), sheet.shape)
    y, x = np.mgrid[0:height, 0:width]
    x, y = x / width - 0.5, y / height - 0.5
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    for tolerance in TOLERANCES:
        bare = (np.abs(smooth - paper).max(axis=2) < tolerance) & inside
        weights, *_ = np.linalg.lstsq(terms[bare], sheet[bare], rcond=None)
        paper = terms @ weights
    return paper, (np.abs(smooth - paper).max(axis=2) < TOLERANCES[-1]) & inside


def distance(residual, bare, sigma):
    """Length of the whitened residual after a blur by sigma pixels."""
    smooth = blurred(residual, sigma)
    sample = smooth[bare]
    for _ in range(3):
        middle = np.median(sample, axis=0)
        deviation = 1.4826 * np.median(np.abs(sample - middle), axis=0) + 1e-6
        sample = sample[(np.abs(sample - middle) < 3.5 * deviation).all(axis=1)]
    least = LEAST_DEVIATION / max(1.0, sigma)
    covariance = np.cov(sample.T) + np.eye(3) * least**2
    white = np.linalg.inv(np.linalg.cholesky(covariance))
    return np.linalg.norm((smooth - middle) @ white.T, axis=2)
