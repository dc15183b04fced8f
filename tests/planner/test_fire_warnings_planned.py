"""What may catch fire stands in the plan and on the ticket before anything is burned."""

from __future__ import annotations

from kerfwright.cli import BAD_INPUT
from small_shop import BOARD, SmallShop, svg

SLITS = "".join(f'<path d="M {10 + k},8 V 24"/>' for k in range(18))
HINGE = (
    '<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="40" height="30"/></g>'
    f'<g id="Holes" fill="none" stroke="black">{SLITS}</g>'
)


def test_a_bending_hinge_is_told_of_in_plan_and_ticket(shop: SmallShop) -> None:
    shop.write("tile.svg", svg(HINGE))
    shop.write("board.toml", f"{BOARD}\n[fire]\nlimit_j_cm2 = 120\n")
    (found,) = [f for f in shop.planned()["findings"] if f["code"] == "sequence/heat-in-one-place"]
    assert found["severity"] == "warn"
    assert "sheet 1" in found["what"]
    assert "help/sequence.html#heat-in-one-place" in (shop.out / "ticket.html").read_text("utf-8")


def test_a_key_that_means_nothing_is_refused(shop: SmallShop) -> None:
    shop.write("board.toml", f"{BOARD}\n[fire]\nlimit_j_mm2 = 2\n")
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "limit_j_mm2" in ran.stderr
    assert "limit_j_cm2" in ran.stderr
