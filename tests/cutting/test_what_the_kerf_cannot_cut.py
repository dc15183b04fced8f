"""What is narrower than the kerf is said, with its place, and never left out in silence."""

from __future__ import annotations

import pytest
from cut_parts import KERF_MM, cut, grid, part, rectangle

from kerfwright.findings import Finding, Severity

NOTCHED = [(0, 0), (10, 0), (10, 10), (5.05, 10), (5.05, 4), (4.95, 4), (4.95, 10), (0, 10)]
WIDE_NOTCH = [(0, 0), (10, 0), (10, 10), (5.2, 10), (5.2, 4), (4.9, 4), (4.9, 10), (0, 10)]


def only(findings: tuple[Finding, ...], code: str) -> Finding:
    (found,) = (finding for finding in findings if finding.code == code)
    return found


def codes(findings: tuple[Finding, ...]) -> set[str]:
    return {finding.code for finding in findings}


def test_a_hole_no_wider_than_the_kerf_is_reported() -> None:
    work = cut([part(rectangle(0, 0, 30), rectangle(10, 10, 10), rectangle(1, 1, 0.15, 4))])
    found = only(work.findings, "cutting/feature-vanishes")
    assert found.severity is Severity.WARN
    assert "4.00 × 0.15 mm" in found.what
    assert (found.x_mm, found.y_mm) == pytest.approx((1.075, 3.0))
    assert len(work.strokes) == 2


def test_a_notch_no_wider_than_the_kerf_is_reported() -> None:
    found = only(cut([part(NOTCHED)]).findings, "cutting/notch-closes")
    assert found.severity is Severity.WARN
    assert (found.x_mm, found.y_mm) == pytest.approx((5.0, 7.0), abs=0.01)
    assert "6.00 × 0.10 mm" in found.what


def test_a_notch_wider_than_the_kerf_is_cut_and_not_reported() -> None:
    assert not cut([part(WIDE_NOTCH)]).findings


def test_the_neck_of_a_hole_is_reported() -> None:
    bone = [(5, 5), (10, 5), (10, 7), (14, 7), (14, 5), (19, 5), (19, 10), (14, 10)]
    bone += [(14, 7.1), (10, 7.1), (10, 10), (5, 10)]
    work = cut([part(rectangle(0, 0, 25), bone)])
    assert "4.00 × 0.10 mm" in only(work.findings, "cutting/notch-closes").what
    assert len(work.strokes) == 3


def test_copies_are_counted_not_listed() -> None:
    copies = [part([(x + 40.0 * i, y) for x, y in NOTCHED]) for i in range(5)]
    assert only(cut(copies).findings, "cutting/notch-closes").count == 5


def test_parts_nearer_than_the_kerf_that_share_no_edge_are_reported() -> None:
    near = [part(rectangle(0, 0, 10)), part(rectangle(10.05, 0, 10)), part(rectangle(40, 0, 10))]
    found = only(cut(near, shared_edges=False).findings, "cutting/parts-closer-than-kerf")
    assert found.severity is Severity.WARN
    assert found.count == 1
    assert found.x_mm == pytest.approx(10.025, abs=0.01)
    assert "cutting/parts-closer-than-kerf" not in codes(cut(near).findings)


def test_a_part_too_near_the_edge_of_the_hole_it_lies_in_is_reported() -> None:
    ring = part(rectangle(0, 0, 30), rectangle(10, 10, 10))
    work = cut([ring, part(rectangle(10.1, 12, 5))], shared_edges=False)
    assert only(work.findings, "cutting/parts-closer-than-kerf").count == 1


@pytest.mark.parametrize("shared_edges", [True, False])
def test_parts_one_kerf_apart_are_not_too_near(shared_edges: bool) -> None:
    work = cut(grid(3, 3, 10.0 + KERF_MM), shared_edges=shared_edges)
    assert not work.findings


def test_half_a_kerf_lost_at_touching_edges_is_said() -> None:
    found = only(cut(grid(3, 3, 10.0)).findings, "cutting/shared-edge-costs-half-kerf")
    assert found.severity is Severity.NOTE
    assert found.count == 9
    assert "120.0 mm" in found.what
    assert "0.1 mm" in found.what
    assert not cut(grid(3, 3, 10.0), kerf_mm=0.0).findings
