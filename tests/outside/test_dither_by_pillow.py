"""Dithering against the imaging library, the published kernels, and the papers' own promises.

Pillow's ``Image.convert("1")`` is Floyd and Steinberg's error diffusion from left to right with
whole numbers (its documentation of ``Image.convert``). It rounds every error, so that single dots
differ; where nothing is rounded the dots must be the same ones.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image

from kerfwright.engraving.dither import (
    KERNELS,
    bayer_ranks,
    blue_noise_ranks,
    dithered,
    weights_of,
)
from kerfwright.shop.material import PhotoMethod

Grey = npt.NDArray[np.uint8]
ALL: list[PhotoMethod] = [
    "floyd-steinberg",
    "jarvis-judice-ninke",
    "stucki",
    "atkinson",
    "ordered",
    "blue-noise",
]
KEEPING_THE_MEAN = [method for method in ALL if method != "atkinson"]


def ours(grey: Grey, method: PhotoMethod = "floyd-steinberg", *, serpentine: bool = False) -> Grey:
    """White where nothing is burned, as the library has it."""
    inside = np.ones(grey.shape, dtype=bool)
    dots = dithered(1.0 - grey / 255.0, inside, method, serpentine=serpentine)
    return np.where(dots, np.uint8(0), np.uint8(255))


def by_pillow(grey: Grey) -> Grey:
    return np.asarray(Image.fromarray(grey).convert("1").convert("L"), dtype=np.uint8)


def soft_picture(seed: int = 3) -> Grey:
    coarse = np.random.default_rng(seed).integers(0, 256, (12, 16)).astype(np.uint8)
    return np.asarray(Image.fromarray(coarse).resize((320, 240), Image.Resampling.BICUBIC))


def test_the_dots_are_the_librarys_where_no_error_is_rounded() -> None:
    # 0 and 255 hand nothing on
    rng = np.random.default_rng(1)
    grey = np.where(rng.random((40, 60)) < 0.5, 0, 255).astype(np.uint8)
    assert np.array_equal(ours(grey), by_pillow(grey))


@pytest.mark.parametrize("way", [(1, 2), (2, 1)])
def test_two_dots_side_by_side_or_below_agree_but_for_the_rounding(way: tuple[int, int]) -> None:
    for first in range(0, 256, 5):
        for second in range(0, 256, 3):
            grey = np.array([first, second], dtype=np.uint8).reshape(way)
            handed_on = (first - (255 if first > 128 else 0)) * (7 if way == (1, 2) else 5) / 16
            # the library sets 128 to black and drops fractions
            if abs(second + handed_on - 128.0) > 1.0 and first != 128:
                assert np.array_equal(ours(grey), by_pillow(grey)), (first, second)


def test_soft_pictures_come_out_alike_in_every_small_block() -> None:
    grey = soft_picture()
    a, b = ours(grey).astype(float), by_pillow(grey).astype(float)
    assert a.mean() == pytest.approx(b.mean(), abs=0.5)

    def blocks(dots: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return dots.reshape(30, 8, 40, 8).mean(axis=(1, 3))

    # one dot of 64 is 4 levels; the wanted mean is as near to one as to the other
    assert np.abs(blocks(a) - blocks(b)).mean() < 5.0
    wanted = blocks(grey.astype(float))
    ours_off, theirs_off = np.abs(blocks(a) - wanted), np.abs(blocks(b) - wanted)
    assert ours_off.mean() < 1.1 * theirs_off.mean()


def test_the_librarys_rows_agree_dot_for_dot_until_a_rounding_parts_them() -> None:
    grey = np.full((1, 400), 64, dtype=np.uint8)
    agree = ours(grey) == by_pillow(grey)
    assert agree.mean() > 0.8


@pytest.mark.parametrize("method", list(KERNELS))
def test_kernels_hand_on_what_was_published(method: str) -> None:
    # Floyd & Steinberg 1976: 7, 3, 5, 1 of 16; Jarvis, Judice & Ninke 1976: of 48; Stucki 1981:
    # of 42; Atkinson's six eighths (common practice, no source)
    weights = weights_of(method)
    total = 6 / 8 if method == "atkinson" else 1.0
    assert weights.sum() == pytest.approx(total, abs=1e-12)
    middle = weights.shape[1] // 2
    assert not weights[0, : middle + 1].any()
    if method == "floyd-steinberg":
        assert np.array_equal(weights * 16, [[0, 0, 7], [3, 5, 1]])
    else:
        assert np.array_equal(weights[1], weights[1][::-1])


@pytest.mark.parametrize("method", KEEPING_THE_MEAN)
def test_the_mean_grey_is_kept_within_one_hundredth(method: PhotoMethod) -> None:
    grey = soft_picture(5)
    dots = ours(grey, method, serpentine=True)
    assert dots.mean() / 255.0 == pytest.approx(grey.mean() / 255.0, abs=0.01)


@pytest.mark.parametrize("method", ALL)
def test_black_stays_black_and_white_stays_white(method: PhotoMethod) -> None:
    for value in (0, 255):
        grey = np.full((33, 47), value, dtype=np.uint8)
        assert (ours(grey, method, serpentine=True) == value).all()


def test_the_bayer_mask_is_the_published_one() -> None:
    # Bayer 1973: the 4 × 4 matrix 0 8 2 10 / 12 4 14 6 / 3 11 1 9 / 15 7 13 5, doubled once more
    quarter = [[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]]
    ranks = bayer_ranks()
    assert np.array_equal(ranks[:4, :4], 4 * np.array(quarter))
    assert sorted(ranks.ravel()) == list(range(64))


def test_blue_noise_has_every_rank_once_and_little_power_at_low_frequencies() -> None:
    # Ulichney 1993: a void-and-cluster mask is blue: its energy lies beyond the principal frequency
    ranks = blue_noise_ranks()
    size = len(ranks)
    assert sorted(ranks.ravel()) == list(range(size * size))
    frequency = np.fft.fftfreq(size)
    radius = np.hypot(frequency[:, None], frequency[None, :])
    for share in (0.1, 0.25, 0.5):
        pattern = (ranks < share * size * size).astype(float)
        power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2
        low = radius < 0.4 * np.sqrt(share)
        # white noise would have as much power below as everywhere
        assert power[low & (radius > 0)].mean() < 0.1 * power[radius > 0].mean()


def test_the_same_seed_gives_the_same_mask() -> None:
    first = blue_noise_ranks()
    blue_noise_ranks.cache_clear()
    assert np.array_equal(first, blue_noise_ranks())
