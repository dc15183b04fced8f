"""Tracing a picture gives the areas of its dark dots, and tells what it dropped.

Areas are compared with closed forms of the shapes that Pillow or a formula drew.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from kerfwright.drawing.model import Drawing, Paint, Picture
from kerfwright.drawing.pictures.trace import SPECKLE_DOTS, otsu_threshold, pictures_as, traced
from kerfwright.findings import Severity
from kerfwright.geometry.affine import Affine, rotation, translation
from kerfwright.geometry.regions import filled

Grey = npt.NDArray[np.uint8]


def placed(grey: Grey, dots_per_mm: float = 10.0) -> Picture:
    height, width = (side / dots_per_mm for side in grey.shape)
    return Picture("logo", grey, Affine(width, 0.0, 0.0, -height, 0.0, height), "Logo", 3)


def ring(size: int, outer: float, inner: float) -> Grey:
    """A ring with soft edges a dot wide, as a program draws it."""
    y, x = np.mgrid[:size, :size] + 0.5 - size / 2
    distance = np.hypot(x, y)
    dark = np.clip(outer - distance + 0.5, 0, 1) * np.clip(distance - inner + 0.5, 0, 1)
    return np.rint(255 * (1 - dark)).astype(np.uint8)


def variance_between(grey: Grey, threshold: int) -> float:
    """Otsu 1979, equation 14, straight from its words."""
    dark, light = grey[grey <= threshold], grey[grey > threshold]
    if not len(dark) or not len(light):
        return 0.0
    share = len(dark) / grey.size
    return float(share * (1 - share) * (dark.mean() - light.mean()) ** 2)


@given(arrays(np.uint8, (6, 7)))
def test_the_threshold_parts_dark_and_light_best(grey: Grey) -> None:
    best = max(variance_between(grey, threshold) for threshold in range(256))
    assert variance_between(grey, otsu_threshold(grey)) == pytest.approx(best)


def test_thresholds_by_hand() -> None:
    assert otsu_threshold(np.array([[0, 255]], dtype=np.uint8)) == 127
    assert otsu_threshold(np.array([[10, 20, 200, 210]], dtype=np.uint8)) == 109
    assert otsu_threshold(np.full((3, 3), 80, dtype=np.uint8)) == 127


def test_a_ring_keeps_its_size_and_its_hole() -> None:
    result = traced(placed(ring(400, 150.0, 80.0)))
    assert (result.areas, result.holes, result.speckles) == (1, 1, 0)
    assert result.shape is not None
    assert result.shape.paint == Paint("#000000", fill_rule="evenodd")
    assert (result.shape.name, result.shape.layer, result.shape.line) == ("logo", "Logo", 3)
    area = filled(result.shape.paths, "evenodd")
    assert area.area == pytest.approx(math.pi * (15**2 - 8**2), rel=5e-3)
    (polygon,) = area.geoms
    for edge, radius in [(polygon.exterior, 15.0), (polygon.interiors[0], 8.0)]:
        distance = np.hypot(*(np.asarray(edge.coords).T - 20.0))
        # the outline strays by at most half a dot of 0.1 mm
        assert np.abs(distance - radius).max() <= 0.05


def test_row_0_is_uppermost() -> None:
    grey = np.full((20, 20), 255, dtype=np.uint8)
    grey[:5, :10] = 0
    shape = traced(placed(grey)).shape
    assert shape is not None
    assert shape.paths[0].bounds_mm == pytest.approx((0.0, 1.5, 1.0, 2.0), abs=0.05)


def test_islands_within_holes() -> None:
    grey = np.full((60, 60), 255, dtype=np.uint8)
    for margin, tone in [(5, 0), (12, 255), (20, 0), (26, 255)]:
        grey[margin : 60 - margin, margin : 60 - margin] = tone
    result = traced(placed(grey))
    assert (result.areas, result.holes) == (2, 2)
    assert result.shape is not None
    dark = (50**2 - 36**2 + 20**2 - 8**2) / 100
    assert filled(result.shape.paths, "evenodd").area == pytest.approx(dark, rel=0.01)


def test_dark_dots_reach_the_edge_of_the_picture() -> None:
    shape = traced(placed(np.zeros((30, 50), dtype=np.uint8))).shape
    assert shape is not None
    assert filled(shape.paths, "evenodd").area == pytest.approx(15.0, rel=0.01)


def test_speckles_are_dropped_and_counted() -> None:
    grey = np.full((100, 100), 255, dtype=np.uint8)
    grey[20:80, 20:80] = 0
    grey[40, 40] = 255
    grey[50:52, 60] = 255
    grey[5, 5] = grey[90, 10] = grey[90, 90] = 0
    result = traced(placed(grey))
    assert (result.areas, result.holes, result.speckles) == (1, 0, 5)
    assert SPECKLE_DOTS > 2
    fine = traced(placed(grey, 100.0), speckle_mm2=1.0)
    assert (fine.areas, fine.speckles) == (0, 4)
    assert fine.shape is None


def test_a_turned_and_mirrored_picture() -> None:
    grey = ring(100, 40.0, 20.0)
    to_mm = translation(50.0, -5.0) @ rotation(30.0) @ Affine(-8.0, 0.0, 0.0, -8.0, 0.0, 0.0)
    result = traced(Picture("logo", grey, to_mm))
    assert result.shape is not None
    area = filled(result.shape.paths, "evenodd")
    assert area.area == pytest.approx(math.pi * (40**2 - 20**2) * 0.08**2, rel=0.02)
    middle = to_mm.apply(np.array([[0.5, 0.5]]))[0]
    assert (area.centroid.x, area.centroid.y) == pytest.approx(tuple(middle), abs=0.02)


def drawing(*greys: Grey) -> Drawing:
    return Drawing("a.svg", (), 50.0, 50.0, (), tuple(placed(grey) for grey in greys))


def test_photo_keeps_and_leave_out_drops_with_a_note() -> None:
    before = drawing(ring(50, 20.0, 5.0), ring(50, 20.0, 5.0))
    assert pictures_as(before, "photo") is before
    after = pictures_as(before, "leave-out")
    assert (after.shapes, after.pictures) == ((), ())
    (note,) = after.findings
    assert (note.code, note.severity, note.count) == (
        "drawing/pictures-left-out",
        Severity.NOTE,
        2,
    )


def test_trace_makes_shapes_and_says_what_it_did() -> None:
    after = pictures_as(drawing(ring(50, 20.0, 5.0)), "trace")
    assert not after.pictures
    assert [shape.name for shape in after.shapes] == ["logo"]
    (note,) = after.findings
    assert note.code == "drawing/traced"
    assert "1 area with 1 hole" in note.what


def test_nothing_dark_and_a_photograph_are_told() -> None:
    white = np.full((20, 20), 255, dtype=np.uint8)
    slope = np.tile(np.arange(256, dtype=np.uint8), (50, 1))
    assert "drawing/traced-empty" in {f.code for f in pictures_as(drawing(white), "trace").findings}
    photo = pictures_as(drawing(slope), "trace")
    (warn,) = (f for f in photo.findings if f.code == "drawing/traced-photo")
    assert warn.severity is Severity.WARN


@given(arrays(np.uint8, (8, 9), elements=st.sampled_from([0, 255])))
def test_any_dots_give_valid_areas_of_about_their_size(grey: Grey) -> None:
    result = traced(placed(grey, 1.0), speckle_mm2=0.0)
    if result.shape is None:
        return
    area = filled(result.shape.paths, "evenodd")
    assert area.is_valid
    assert len(area.geoms) >= result.areas - result.holes
    left, bottom, right, top = area.bounds
    assert min(left, bottom) >= -1e-9
    assert right <= 9 + 1e-9
    assert top <= 8 + 1e-9
