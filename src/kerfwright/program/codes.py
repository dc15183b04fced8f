"""G and M codes: modal groups, and which of them a flatbed laser's program may use.

Groups are those of NISTIR 6556 (Kramer, Proctor & Messina 2000), tables 2 and 4, given here from
memory of the report. Codes are kept as tenths: G91.1 is 911.
"""

from __future__ import annotations

from collections.abc import Iterable

from kerfwright.errors import KerfwrightError
from kerfwright.program.words import unknown_word

_G_GROUPS: dict[str, tuple[int, ...]] = {
    "not modal": (40, 100, 280, 300, 530, 920, 921, 922, 923),
    "motion": (0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890),
    "plane": (170, 180, 190),
    "distance": (900, 910),
    "arc distance": (901, 911),
    "feed rate": (930, 940),
    "units": (200, 210),
    "cutter radius": (400, 410, 420),
    "tool length": (430, 490),
    "retract": (980, 990),
    "coordinate system": (540, 550, 560, 570, 580, 590, 591, 592, 593),
    "path control": (610, 611, 640),
}
_M_GROUPS: dict[str, tuple[int, ...]] = {
    "stopping": (0, 10, 20, 300, 600),
    "tool change": (60,),
    "spindle": (30, 40, 50),
    "coolant": (70, 80, 90),
    "overrides": (480, 490),
}
_GROUP_OF: dict[tuple[str, int], str] = {
    (letter, code): group
    for letter, groups in (("G", _G_GROUPS), ("M", _M_GROUPS))
    for group, codes in groups.items()
    for code in codes
}

G_WITHOUT_EFFECT = frozenset({170, 400, 490, 540, 610, 611, 640, 940})
"""Say what holds anyway: XY plane, no offsets, units per minute."""

M_NOTED = {70: "coolant or air", 80: "coolant or air", 90: "coolant or air"}

SUPPORTED: dict[str, frozenset[int]] = {
    "G": G_WITHOUT_EFFECT | {0, 10, 20, 30, 40, 200, 210, 800, 900, 901, 910, 911},
    "M": frozenset({0, 10, 20, 30, 40, 50, 300, 600}) | frozenset(M_NOTED),
}


def spoken(letter: str, code: float) -> str:
    """Code in tenths as it is written: G91.1."""
    return f"{letter}{code / 10:g}"


def check_codes(letter: str, codes: Iterable[float], file: str) -> None:
    """Check that a block's G or M codes are known, usable, and at most one of each modal group.

    Air and coolant may be switched on twice in one block (M7 and M8), as the report allows.

    Raises:
        KerfwrightError: ``program/unknown-word``, ``program/unsupported-word`` or
            ``program/same-group``.

    """
    seen: dict[str, float] = {}
    for code in codes:
        group = _GROUP_OF.get((letter, int(code))) if code == int(code) else None
        if group is None:
            raise unknown_word(spoken(letter, code), file)
        if code not in SUPPORTED[letter]:
            raise KerfwrightError(
                "program/unsupported-word",
                file=file,
                thing=f"{spoken(letter, code)} ({group}) cannot be followed by Kerfwright.",
                remedy="Write the program without it: absolute or relative moves in the XY plane.",
            )
        if group in seen and group != "coolant":
            raise KerfwrightError(
                "program/same-group",
                file=file,
                thing=f"{spoken(letter, seen[group])} and {spoken(letter, code)} contradict "
                f"each other in one line ({group}).",
                remedy="Keep the one that is meant, or write them on two lines.",
            )
        seen[group] = code
