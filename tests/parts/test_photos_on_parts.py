"""Pictures made of dots go to the part they lie on; those that lie on none stop the plan."""

from __future__ import annotations

import numpy as np

from kerfwright.drawing.model import Drawing, Paint, Picture, Shape
from kerfwright.findings import Finding
from kerfwright.geometry.affine import Affine, rotation, translation
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.recognise import recognise_parts
from kerfwright.toolpath import Process

DOTS = np.arange(6, dtype=np.uint8).reshape(2, 3)


def box(x0: float, y0: float, x1: float, y1: float) -> Path:
    return Path(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float), closed=True)


def picture(name: str, x: float, y: float, width: float = 20.0, height: float = 10.0) -> Picture:
    return Picture(name, DOTS, Affine(a=width, d=-height, e=x, f=y + height))


def recognise(
    *pictures: Picture, blank: bool = False
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    boxes = {"left": box(0, 0, 50, 40), "right": box(60, 0, 110, 40), "hole": box(65, 5, 105, 15)}
    shapes = [
        ProcessedShape(Shape(name, (path,), "", Paint(stroke="#000000")), Process.CUT, "given")
        for name, path in boxes.items()
    ]
    drawing = Drawing("tag.svg", (), 120.0, 50.0, pictures=pictures)
    return recognise_parts(() if blank else shapes, drawing, name="tag", blank=blank)


def codes(findings: tuple[Finding, ...]) -> list[tuple[str, str, int]]:
    return [(one.code, one.severity.value, one.count) for one in findings]


def test_a_picture_goes_to_the_part_it_lies_on_and_moves_with_it() -> None:
    parts, findings = recognise(picture("photo", 70, 20))
    assert [len(one.photos) for one in parts] == [0, 1]
    assert codes(findings) == []
    assert [Process.PHOTO in one.processes for one in parts] == [False, True]
    move = translation(3.0, 4.0) @ rotation(90.0)
    (moved,) = parts[1].transformed(move).photos
    assert np.allclose(moved.picture.corners_mm, move.apply(picture("", 70, 20).corners_mm))
    assert moved.picture.grey is DOTS


def test_a_picture_over_an_edge_goes_where_most_of_it_lies() -> None:
    parts, findings = recognise(picture("photo", 38, 5, 30.0))
    assert [len(one.photos) for one in parts] == [1, 0]
    assert codes(findings) == []


def test_pictures_on_no_part_are_told() -> None:
    parts, findings = recognise(
        picture("beside", 52, 42, 30, 5), picture("in hole", 70, 5), picture("flat", 5, 5, 9, 0)
    )
    assert not any(one.photos for one in parts)
    assert codes(findings) == [("parts/photo-outside-part", "stop", 3)]
    assert 'pictures = "leave-out"' in findings[0].remedy
    assert set(findings[0].shape.split(", ")) == {"beside", "in hole", "flat"}


def test_a_blank_may_hold_nothing_but_a_picture() -> None:
    parts, findings = recognise(picture("photo", 10, 10), blank=True)
    assert [len(one.photos) for one in parts] == [1]
    assert codes(findings) == []
    assert parts[0].processes == {Process.PHOTO}
