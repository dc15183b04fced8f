"""What must not be burned stops the work, by what it is made of or else by its name.

Each row names a published source or says that it is common practice of the trade.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kerfwright.findings import Severity
from kerfwright.shop.hazards import HAZARDS, PRACTICE, hazard_findings, hazards_of
from kerfwright.shop.material import Material
from small_shop import SmallShop


def material(name: str, *made_of: str) -> Material:
    return Material(name=name, thickness_mm=3.0, made_of=made_of)


@pytest.mark.parametrize(
    "name",
    [
        "clear PVC 2 mm",
        "adhesive vinyl, matt",
        "PTFE film",
        "FR4 board",
        "carbon-fibre plate",
        "Beryllium copper shim",
        "pressure treated timber",
        "pvc_white_3mm",
        "3mmPVC",
        "polyvinylchloride",
        "faux leather, brown",
        "G10 plate",
    ],
)
def test_these_stop(name: str) -> None:
    (finding,) = [f for f in hazard_findings([material(name)]) if f.severity is Severity.STOP]
    assert finding.code == "material/never-burn"
    assert name in finding.what


@pytest.mark.parametrize(
    "name",
    [
        "ABS sheet",
        "polycarbonate 1 mm",
        "PC film",
        "pe_2mm",
        "acetal",
        "MDF 6 mm",
        "MDF6",
        "leather, brown",
        "PU leather",
        "galvanised steel",
        "foam",
    ],
)
def test_these_warn(name: str) -> None:
    findings = hazard_findings([material(name)])
    assert [f.severity for f in findings] == [Severity.WARN]
    assert findings[0].code == "material/needs-care"


@pytest.mark.parametrize(
    "name",
    [
        "birch plywood 3 mm",
        "clear cast acrylic 3 mm",
        "absorbent card",
        "sandwich board",
        "PVC-free banner paper",
        "halogen free card",
        "ethylene-vinyl acetate",
        "FR40 spruce",
        "slate-grey engraving laminate 2 mm",
    ],
)
def test_these_pass(name: str) -> None:
    assert hazard_findings([material(name)]) == ()


def test_what_it_is_made_of_comes_before_its_name() -> None:
    assert hazards_of(material("vinyl record blank", "birch plywood")) == ()
    assert hazards_of(material("harbour banner", "polyester", "PVC coating"))[0].severity is (
        Severity.STOP
    )


def test_one_word_counts_for_one_row() -> None:
    assert len(hazards_of(material("chrome-tanned leather"))) == 2
    assert len(hazards_of(material("carbon fibre resin plate"))) == 2
    assert len(hazards_of(material("polished brass"))) == 2


def test_every_row_has_a_source_or_says_that_it_has_none() -> None:
    for hazard in HAZARDS:
        assert hazard.source == PRACTICE or re.search(r"\d{3,}", hazard.source), hazard.words


def test_an_order_of_vinyl_is_not_planned(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    for file in ("order.toml", "board.toml"):
        text = (shop.folder / file).read_text(encoding="utf-8")
        shop.write(file, text.replace('"board"', '"vinyl board"'))
    ran = shop.plan()
    assert ran.exit_code == 2
    assert "hydrogen chloride" in ran.stderr
    assert "kerfwright help material/never-burn" in ran.stderr
    assert not list(shop.folder.rglob("*.nc"))
