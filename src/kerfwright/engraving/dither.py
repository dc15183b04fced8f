"""Shades by dots: which places of a grid are burned so that the eye sees the wanted share.

Error diffusion hands the error of each dot on to those after it: Floyd & Steinberg 1976 (*An
adaptive algorithm for spatial greyscale*), Jarvis, Judice & Ninke 1976 (*A survey of techniques
for the display of continuous tone pictures on bilevel displays*), Stucki 1981 (*MECCA — a
multiple-error correcting computation algorithm for bilevel image hardcopy reproduction*), and
the kernel that the trade knows by Atkinson's name, which hands on six eighths only and so keeps
light tones lighter and dark ones darker. Rows run to and fro, which breaks up the worms that one
direction draws (Ulichney 1987, *Digital Halftoning*). Masks compare each place with a threshold:
ordered (Bayer 1973, *An optimum method for two-level rendition of continuous-tone pictures*) and
blue noise (Ulichney 1993, *The void-and-cluster method for dither array generation*).
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from kerfwright.engraving.dither_kernel import diffuse, void_and_cluster
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.material import PhotoMethod

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

KERNELS: dict[str, tuple[int, tuple[tuple[int, ...], ...]]] = {
    "floyd-steinberg": (16, ((0, 0, 7), (3, 5, 1))),
    "jarvis-judice-ninke": (48, ((0, 0, 0, 7, 5), (3, 5, 7, 5, 3), (1, 3, 5, 3, 1))),
    "stucki": (42, ((0, 0, 0, 8, 4), (2, 4, 8, 4, 2), (1, 2, 4, 2, 1))),
    "atkinson": (8, ((0, 0, 0, 1, 1), (0, 1, 1, 1, 0), (0, 0, 1, 0, 0))),
}
"""What each kernel divides by, and the shares that it hands on; the dot is in the middle above."""

BAYER_DOUBLINGS = 3
"""An 8 × 8 mask: 64 steps of tone."""

BLUE_SIZE = 64
BLUE_SEED = 1993
BLUE_SHARE = 0.1
BLUE_SIGMA = 1.5
"""Side of the blue noise mask, seed and share of its first pattern, width of its neighbourhood."""


def dithered(
    tone: FloatArray, inside: BoolArray, method: PhotoMethod, *, serpentine: bool = True
) -> BoolArray:
    """Places to burn for wanted shares of dots, 0 to 1, shape (rows, columns).

    Outside of ``inside`` nothing is burned and no error is handed on.

    Raises:
        ValueError: ``method`` sets no dots.
    """
    tone = np.ascontiguousarray(tone, dtype=np.float64)
    if method in KERNELS:
        weights = weights_of(method)
        return diffuse(tone, inside, weights, weights.shape[1] // 2, serpentine)
    if method not in {"ordered", "blue-noise"}:
        raise ValueError(f"{method} sets no dots")
    ranks = bayer_ranks() if method == "ordered" else blue_noise_ranks()
    rows, columns = tone.shape
    high, wide = ranks.shape
    thresholds = (ranks + 0.5) / ranks.size
    tiled = thresholds[np.arange(rows) % high][:, np.arange(columns) % wide]
    return np.asarray((tone > tiled) & inside)


def weights_of(method: str) -> FloatArray:
    """Shares that an error diffusion kernel hands on."""
    divisor, table = KERNELS[method]
    return np.array(table, dtype=np.float64) / divisor


@cache
def bayer_ranks() -> IntArray:
    """Order in which the places of Bayer's mask are filled, shape (8, 8)."""
    ranks = np.zeros((1, 1), dtype=np.int64)
    for _ in range(BAYER_DOUBLINGS):
        ranks = np.block([[4 * ranks, 4 * ranks + 2], [4 * ranks + 3, 4 * ranks + 1]])
    return ranks


@cache
def blue_noise_ranks() -> IntArray:
    """Order in which the places of the blue noise mask are filled, shape (64, 64)."""
    away = np.minimum(np.arange(BLUE_SIZE), BLUE_SIZE - np.arange(BLUE_SIZE)).astype(np.float64)
    bell = np.exp(-(away[:, None] ** 2 + away[None, :] ** 2) / (2.0 * BLUE_SIGMA**2))
    first = np.random.default_rng(BLUE_SEED).random((BLUE_SIZE, BLUE_SIZE)) < BLUE_SHARE
    return void_and_cluster(first, bell)
