"""A measured grey ramp evens out what dots gain, so that a photo's mean grey is the wanted one.

Dots burn wider than they are set, and light caught between them makes tints darker than their
share of dots. Yule & Nielsen 1951 (*The penetration of light into paper and its effect on halftone
reproduction*) give the reflectance of a tint with the share s of dots as
R = ((1 - s) · Rw^(1/n) + s · Rb^(1/n))^n; n between 1 and 2 is theirs, the reflectances are
invented. The maker burns a ramp of shares and measures darkness; the picture's mean must then be
what it asks for, within 1 %.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from scipy import ndimage
from shapely import MultiPolygon, box

from kerfwright.drawing.model import Picture
from kerfwright.engraving.dither import dithered
from kerfwright.engraving.photo_cells import PhotoPlace, burned_runs, cells_of
from kerfwright.engraving.tone import tone_of
from kerfwright.geometry.affine import Affine
from kerfwright.shop.material import PhotoMethod, Recipe

Floats = npt.NDArray[np.float64]

WHITE, BLACK = 0.8, 0.08
WITHIN = 0.01
SIDE_MM, INTERVAL_MM = 32.0, 0.125
"""256 rows of 256 dots: whole tiles of every mask."""

RAMP = np.linspace(0.0, 1.0, 11)
"""Patches of a maker's ramp: every tenth."""

SHADES = (25, 60, 102, 128, 160, 204, 235)

KEEPING: tuple[PhotoMethod, ...] = (
    "floyd-steinberg",
    "jarvis-judice-ninke",
    "stucki",
    "blue-noise",
)
"""Ways to set dots that keep every share; ordered has 64 steps, and Atkinson's kernel hands on
three quarters of the error only, on purpose."""


def yule_nielsen(share: Floats, n: float) -> Floats:
    """Darkness of a tint, 0 bare and 1 solid."""
    root = (1.0 - share) * WHITE ** (1.0 / n) + share * BLACK ** (1.0 / n)
    return np.asarray((WHITE - root**n) / (WHITE - BLACK))


def recipe(method: PhotoMethod, ramp: list[tuple[float, float]] | None) -> Recipe:
    return Recipe.model_validate(
        {
            "machine": "trial",
            "process": "photo",
            "speed_mm_s": 200.0,
            "power": 0.6,
            "interval_mm": INTERVAL_MM,
            "method": method,
            "grey_curve": ramp,
        }
    )


def share_of_dots(grey: int, settings: Recipe) -> float:
    """Burned length over that of a solid area, of a picture with one grey all over."""
    dots = np.full((8, 8), grey, dtype=np.uint8)
    picture = Picture("p", dots, Affine(a=SIDE_MM, d=-SIDE_MM, f=SIDE_MM))
    cells = cells_of(
        PhotoPlace(picture, MultiPolygon([box(0.0, 0.0, SIDE_MM, SIDE_MM)])), settings, 0.0
    )
    runs = burned_runs(cells, settings)
    return float((runs.b - runs.a).sum() * INTERVAL_MM / SIDE_MM**2)


@pytest.mark.parametrize("n", [1.0, 1.4, 2.0])
@pytest.mark.parametrize("method", KEEPING)
def test_mean_grey_is_kept_through_the_gain_of_dots(method: PhotoMethod, n: float) -> None:
    ramp = list(zip(RAMP.tolist(), yule_nielsen(RAMP, n).tolist(), strict=True))
    settings = recipe(method, ramp)
    for grey in SHADES:
        wanted = (255 - grey) / 255.0
        burned = yule_nielsen(np.array(share_of_dots(grey, settings)), n)
        assert burned == pytest.approx(wanted, abs=WITHIN), grey


def test_without_the_ramp_the_gain_shows() -> None:
    """The check above can fail."""
    burned = yule_nielsen(np.array(share_of_dots(128, recipe("stucki", None))), 1.8)
    assert burned > 127 / 255.0 + 0.1


@pytest.mark.parametrize(("method", "within"), [("blue-noise", WITHIN), ("floyd-steinberg", 0.04)])
def test_mean_grey_is_kept_where_round_spots_overlap(method: PhotoMethod, within: float) -> None:
    """Each dot burned as a disc 1.5 dots wide; covered pixels are counted, on ramp and picture.

    Near one half Floyd and Steinberg's dots fall into a chequered pattern that covers more than
    its neighbours in tone do, which no ramp in tenths can show.
    """
    whole = recipe(method, None)
    ramp = [(float(s), covered(np.full((128, 128), s), method)) for s in RAMP]
    tone = tone_of(whole.model_copy(update={"grey_curve": tuple(ramp)}))
    assert ramp[5][1] > 0.6
    for wanted in (0.15, 0.3, 0.5, 0.72, 0.9):
        share = tone.strength_for(np.full((128, 128), wanted))
        assert covered(share, method) == pytest.approx(wanted, abs=within)


def covered(share: Floats, method: PhotoMethod, finer: int = 8) -> float:
    """Share of pixels within 0.75 dots of the middle of a burned dot (scipy's exact distances)."""
    burned: Callable[..., npt.NDArray[np.bool_]] = dithered
    rows, columns = np.nonzero(burned(share, np.ones(share.shape, dtype=bool), method))
    canvas = np.ones((share.shape[0] * finer, share.shape[1] * finer), dtype=bool)
    canvas[rows * finer + finer // 2, columns * finer + finer // 2] = False
    if canvas.all():
        return 0.0
    return float((ndimage.distance_transform_edt(canvas) <= 0.75 * finer).mean())
