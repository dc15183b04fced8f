"""Lines of two directions are put in order as Unicode Standard Annex 9 shows.

In the annex's examples capitals stand for letters that run from right to left; here they are
turned into Hebrew ones.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.lettering.writing_direction import levels_of, visual_order

_HEBREW = {ord(c): 0x5D0 + i for i, c in enumerate("ABCDEFGHIJKLMNOPQRSTUVWXY")}


def shown(text: str, *, rtl: bool) -> str:
    """The annex's "display": characters from left to right, brackets not mirrored."""
    order = visual_order(levels_of(text.translate(_HEBREW), rtl=rtl))
    return "".join(text[i] for i in order)


@pytest.mark.parametrize(
    ("memory", "rtl", "display"),
    [
        # section 3.4, "Reordering Resolved Levels"; brackets and marks without mirroring
        ("car means CAR.", False, "car means RAC."),
        ("car MEANS CAR.", True, ".RAC SNAEM car"),
        # section 3.3.5, rules N0 to N2: pairs of brackets follow what is inside and around
        ("AB(CD[&ef]!)gh", True, "gh)!]ef&[DC(BA"),
        ("smith (fabrikam ARABIC) HEBREW", True, "WERBEH )CIBARA fabrikam( smith"),
        # section 3.3.4: numbers keep their own order, their signs stay with them
        ("A 123,456", True, "123,456 A"),
        ("A 12+3 B", True, "B 12+3 A"),
        ("plain text (no turn) 12", False, "plain text (no turn) 12"),
    ],
)
def test_order_of_the_annex(memory: str, rtl: bool, display: str) -> None:
    assert shown(memory, rtl=rtl) == display


@given(st.text(max_size=40), st.booleans())
def test_every_character_is_shown_once(text: str, rtl: bool) -> None:
    levels = levels_of(text, rtl=rtl)
    assert sorted(visual_order(levels)) == list(range(len(text)))
    assert all(level >= rtl for level in levels)
