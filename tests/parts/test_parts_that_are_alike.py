"""Parts are alike when a rigid motion lays one on the other; mirror images are told apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawn_parts import box, circle, part, polygon
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.drawing.model import Picture
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.parts.congruence import AlikeParts, alike_findings, alike_parts
from kerfwright.parts.model import Part, PhotoMark

MIRROR = scaling(-1.0, 1.0)

FLAG = [(0.0, 0.0), (40.0, 0.0), (40.0, 25.0), (12.0, 25.0), (0.0, 60.0)]
"""No two sides alike, so neither turns nor mirrors lay it on itself."""


def moved(one: Part, turn_deg: float, *, mirror: bool = False, x: float = 7.0) -> Part:
    still = translation(x, -3.0) @ rotation(turn_deg)
    turned = one.transformed(still @ MIRROR if mirror else still)
    if not mirror:
        return turned
    # a reader makes outlines run counter-clockwise again
    return Part(
        turned.name,
        turned.drawing,
        turned.outline.reversed(),
        tuple(hole.reversed() for hole in turned.holes),
        turned.slits,
        turned.scores,
        turned.engraves,
        photos=turned.photos,
    )


def entered(one: Part, vertex: int) -> Part:
    return Part(one.name, one.drawing, one.outline.entered_at(vertex), one.holes)


@given(
    st.lists(st.floats(8.0, 40.0), min_size=5, max_size=14),
    st.floats(0.0, 360.0),
    st.booleans(),
    st.integers(0, 4),
)
@settings(max_examples=60, deadline=None)
def test_a_moved_copy_is_alike_wherever_its_line_begins(
    radii: list[float], turn_deg: float, mirror: bool, vertex: int
) -> None:
    angles = [2 * math.pi * n / len(radii) for n in range(len(radii))]
    star = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)]
    one = part(star)
    other = entered(moved(one, turn_deg, mirror=mirror), vertex)
    (group,) = alike_parts([one, other])
    assert group.members == (0, 1)
    if not mirror:
        assert group.mirrored == (False, False)


@given(st.floats(0.0, 360.0), st.booleans())
@settings(max_examples=30, deadline=None)
def test_a_mirror_image_is_told_from_a_turned_copy(turn_deg: float, mirror: bool) -> None:
    one = part(FLAG, polygon(6, 3.0, 20.0, 10.0), scores=[[(5.0, 5.0), (30.0, 8.0)]])
    (group,) = alike_parts([one, moved(one, turn_deg, mirror=mirror)])
    assert group.mirrored == (False, mirror)


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 8, 12, 17, 30, 60])
def test_regular_polygons_lie_on_each_other_at_any_turn(corners: int) -> None:
    """The symmetries of a regular polygon are those of the dihedral group: all its turns, and
    mirrors that are turns of it again (Coxeter, *Introduction to Geometry*, section 2.7)."""
    one = part(polygon(corners, 50.0))
    others = [
        moved(one, turn, mirror=mirror) for turn in (0.0, 11.3, 200.7) for mirror in (False, True)
    ]
    assert alike_parts([one, *others]) == (AlikeParts(tuple(range(7)), (False,) * 7),)


def test_circles_are_alike_and_others_of_a_little_more_are_not() -> None:
    plates = [part(circle(20.0)), moved(part(circle(20.0)), 33.0), part(circle(20.1))]
    assert [group.members for group in alike_parts(plates)] == [(0, 1)]


def test_circles_drawn_with_other_steps_are_alike() -> None:
    assert alike_parts([part(polygon(90, 20.0)), part(polygon(97, 20.0, turn=0.02))])


def test_a_round_part_is_laid_on_another_by_its_holes() -> None:
    def dial(turn: float, second: float = 2.1) -> Part:
        holes = [(12 * math.cos(turn + a), 12 * math.sin(turn + a)) for a in (0.0, second)]
        return part(
            circle(20.0), *(polygon(24, r, *at) for r, at in zip((2, 3), holes, strict=True))
        )

    groups = alike_parts([dial(0.0), dial(1.234), dial(0.0, -2.1), dial(0.3, 2.2)])
    assert groups == (AlikeParts((0, 1, 2), (False, False, True)),)


def test_a_gear_of_many_teeth_with_one_hole_off_its_middle() -> None:
    teeth = [
        (
            (50 + 4 * (n // 2 % 2)) * math.cos(math.pi * n / 80),
            (50 + 4 * (n // 2 % 2)) * math.sin(math.pi * n / 80),
        )
        for n in range(160)
    ]
    one = part(teeth, circle(3.0, 20.0))
    assert alike_parts([one, moved(one, 77.7)])[0].mirrored == (False, False)
    other = part(teeth, circle(3.0, 20.0 * math.cos(0.02), 20.0 * math.sin(0.02)))
    assert alike_parts([one, other]) == ()


def test_corners_on_each_others_lines_are_not_enough() -> None:
    """A notch from above and one from below as deep: each has its corners on the other's lines."""
    above = [(0, 0), (60, 0), (60, 10), (33, 10), (33, 5), (30, 5), (30, 10), (0, 10)]
    below = [(0, 0), (30, 0), (30, 5), (33, 5), (33, 0), (60, 0), (60, 10), (0, 10)]
    # not turned nor mirrored copies of one another, thanks to a hole
    hole = box(5, 1, 9, 3)
    assert alike_parts([part(above, hole), part(below, hole)]) == ()


@pytest.mark.parametrize(
    "other",
    [
        part(FLAG, polygon(6, 3.0, 20.0, 10.0)),
        part(FLAG, polygon(6, 3.0, 20.5, 10.0), scores=[[(5.0, 5.0), (30.0, 8.0)]]),
        part(FLAG, polygon(6, 3.0, 20.0, 10.0), scores=[[(5.0, 5.3), (30.0, 8.3)]]),
        part(FLAG, polygon(6, 3.0, 20.0, 10.0), slits=[[(5.0, 5.0), (30.0, 8.0)]]),
        part(FLAG, polygon(7, 3.0, 20.0, 10.0), scores=[[(5.0, 5.0), (30.0, 8.0)]]),
    ],
    ids=["no score", "hole moved", "score moved", "slit for score", "other hole"],
)
def test_what_is_inside_counts(other: Part) -> None:
    one = part(FLAG, polygon(6, 3.0, 20.0, 10.0), scores=[[(5.0, 5.0), (30.0, 8.0)]])
    assert alike_parts([one, other]) == ()
    assert alike_parts([one, moved(one, 12.0)])


def test_pictures_count_and_how_they_lie() -> None:
    def framed(grey: int, to_mm: Affine) -> Part:
        dots = np.full((2, 2), grey, dtype=np.uint8)
        plain = part(box(0, 0, 40, 40))
        photo = PhotoMark(Picture("photo", dots, to_mm))
        return Part("a", "d", plain.outline, photos=(photo,))

    upright = Affine(a=20.0, d=-20.0, e=10.0, f=30.0)
    one = framed(90, upright)
    assert alike_parts([one, framed(90, upright)])
    assert alike_parts([one, moved(one, 90.0)])
    assert not alike_parts([one, framed(91, upright)])


@given(st.permutations(range(9)))
@settings(max_examples=20, deadline=None)
def test_groups_do_not_depend_on_the_order(order: list[int]) -> None:
    kinds = [part(FLAG), part(box(0, 0, 30, 20)), part(circle(9.0))]
    parts = [moved(kinds[n % 3], 37.0 * n) for n in order]
    groups = alike_parts(parts)
    found = {frozenset(order[member] % 3 for member in group.members) for group in groups}
    assert found == {frozenset({0}), frozenset({1}), frozenset({2})}
    assert [len(group.members) for group in groups] == [3, 3, 3]


def test_the_finding_counts_and_names() -> None:
    one = part(FLAG, name="left")
    parts = [one, moved(one, 20.0), moved(one, 5.0, mirror=True)]
    (told,) = alike_findings(parts, alike_parts(parts), "drawn.svg")
    assert (told.code, told.severity.value, told.count) == ("parts/alike", "note", 3)
    assert told.what == "3 parts are alike; one of them is the mirror image of the others."
