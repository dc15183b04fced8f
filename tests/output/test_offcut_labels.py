"""Labels for offcuts: what each says, how large it is drawn, how they lie on paper. Data invented.

Page sizes are checked with a general PDF reader; A4 is that of ISO 216.
"""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from shapely import Polygon, box

import planned_order
from kerfwright.nesting.remainder import Remainder
from kerfwright.output.labels import (
    HIGH_MM,
    WIDE_MM,
    OffcutLabel,
    label_of_lot,
    labels_of_plan,
    labels_pdf,
)
from kerfwright.plan import Plan
from kerfwright.shop.stock_lots import Lot, StockedLot
from small_shop import STOCK, SmallShop, run

DAY = datetime.date(2026, 5, 4)
MM_A_POINT = 25.4 / 72.0
ANGLE = Polygon([(0, 0), (310, 0), (310, 120), (150, 120), (150, 240), (0, 240)])


def a_label(**changes: object) -> OffcutLabel:
    label = OffcutLabel("E-014", "birch plywood 3 mm", ANGLE, DAY, "E-014", location="rack 2")
    return replace(label, **changes)  # type: ignore[arg-type]


def opened(data: bytes) -> tuple[list[str], list[tuple[float, float]]]:
    """Text and size in mm of each page."""
    with pypdfium2.PdfDocument(data) as pdf:
        texts = [" ".join(page.get_textpage().get_text_bounded().split()) for page in pdf]
        sizes = [(page.get_width() * MM_A_POINT, page.get_height() * MM_A_POINT) for page in pdf]
    return texts, sizes


def plan_with(*lefts: Remainder | None) -> Plan:
    plan = planned_order.order()
    sheet = plan.sheets[0]
    sheets = tuple(replace(sheet, number=n, left=left) for n, left in enumerate(lefts, 1))
    return replace(plan, sheets=sheets, offcut_least_mm=100.0)


def test_a_label_says_what_lies_there() -> None:
    ((text,), _) = opened(labels_pdf([a_label(thickness_mm=3.0, came_from="cut from S-003")]))
    for said in (
        *("E-014", "310 × 240 × 3 mm", "birch plywood 3 mm", "rack 2", "2026-05-04"),
        "cut from S-003",
    ):
        assert said in text


def test_ten_go_on_an_a4_page_and_one_on_a_small_one() -> None:
    many = [a_label(label=f"E-{n:03d}") for n in range(1, 12)]
    texts, sizes = opened(labels_pdf(many))
    assert len(texts) == 2
    assert all(f"E-{n:03d}" in texts[0] for n in range(1, 11))
    assert "E-011" in texts[1]
    assert sizes[0] == pytest.approx((210.0, 297.0), abs=0.1)
    texts, sizes = opened(labels_pdf(many, small_pages=True))
    assert len(texts) == 11
    assert sizes[0] == pytest.approx((WIDE_MM, HIGH_MM), abs=0.1)


def test_the_outline_is_drawn_to_scale_and_the_right_way_up() -> None:
    with pypdfium2.PdfDocument(labels_pdf([a_label()], small_pages=True)) as pdf:
        grey = np.asarray(pdf[0].render(scale=10, grayscale=True).to_pil())
    picture = grey[len(grey) * 44 // 100 :, grey.shape[1] * 6 // 10 :] < 128
    rows, columns = np.flatnonzero(picture.any(axis=1)), np.flatnonzero(picture.any(axis=0))
    wide, high = np.ptp(columns), np.ptp(rows)
    assert wide / high == pytest.approx(310 / 240, rel=0.02)
    top = np.flatnonzero(picture[rows[0] + 2]) - columns[0]
    assert top.max() / wide == pytest.approx(150 / 310, abs=0.03), "narrow above, wide below"


def test_nothing_stands_beyond_a_labels_edge() -> None:
    long = a_label(
        label="ABCDEFGHIJ-0123456789.ABCDEFGHIJ",
        material="a material with a very long name " * 5,
        location="in the rack behind the door, third shelf from below",
        came_from="left of " + "half sheet " * 6,
    )
    for label in (long, replace(long, label="")):
        with pypdfium2.PdfDocument(labels_pdf([label], small_pages=True)) as pdf:
            grey = np.asarray(pdf[0].render(scale=4, grayscale=True).to_pil())
        edge = np.concatenate([grey[:4].ravel(), grey[-4:].ravel(), grey[:, :4].ravel()])
        assert edge.min() > 250


def test_a_plan_labels_what_is_worth_keeping() -> None:
    kept = Remainder(0.5, ANGLE, box(0, 0, 310, 120))
    small = Remainder(0.9, box(0, 0, 90, 300), box(0, 0, 90, 300))
    (label,) = labels_of_plan(plan_with(kept, small, None), DAY)
    assert label.size_mm == (310.0, 240.0)
    assert label.thickness_mm == 3.0
    assert "sheet 1" in label.code
    assert "Regatta" in label.code
    ((text,), _) = opened(labels_pdf([label]))
    assert "Label in stock" in text, "a line to write it on"


def test_a_lots_label_has_what_the_stock_says() -> None:
    lot = Lot("card", 200.0, 100.0, DAY, "offcut", location="drawer")
    label = label_of_lot(StockedLot("E-002", lot, 1, cut_from="S-001"))
    assert label.code.splitlines() == ["E-002", "card"]
    assert (label.location, label.came_from) == ("drawer", "cut from S-001")
    assert label.outline.equals(box(0, 0, 200, 100))


def test_the_same_pieces_print_the_same_labels() -> None:
    assert labels_pdf([a_label()]) == labels_pdf([a_label()])


def test_hostile_words_break_no_label() -> None:
    hostile = a_label(material=planned_order.HOSTILE, location=planned_order.HOSTILE)
    assert len(opened(labels_pdf([hostile]))[0]) == 1


def test_labels_are_printed_from_the_records(tmp_path: Path) -> None:
    records = ("--records", tmp_path / "records.sqlite")
    run("stock", "receive", "card", "310x240", "--offcut", "--location", "rack 2", *records)
    ran = run("stock", "label", "E-001", "--out", tmp_path / "e.pdf", *records)
    assert (ran.exit_code, ran.stdout) == (0, f"1 label written to {tmp_path / 'e.pdf'}.\n")
    ((text,), _) = opened((tmp_path / "e.pdf").read_bytes())
    assert "310 × 240 mm" in text
    missing = run("stock", "label", "E-009", "--out", tmp_path / "f.pdf", *records)
    assert missing.exit_code == 2
    assert not (tmp_path / "f.pdf").exists()


def test_a_plan_that_leaves_pieces_writes_their_labels_and_a_later_one_takes_them_back(
    tmp_path: Path,
) -> None:
    shop = SmallShop(tmp_path)
    shop.order(stock=STOCK.replace("width_mm = 120", "width_mm = 260"))
    (sheet,) = shop.planned()["sheets"]
    assert sheet["left"]["worth_keeping"]
    ((text,), _) = opened((shop.out / "labels.pdf").read_bytes())
    assert "Small order, sheet 1" in text
    assert "board" in text
    shop.order()
    shop.planned()
    assert not (shop.out / "labels.pdf").exists()
