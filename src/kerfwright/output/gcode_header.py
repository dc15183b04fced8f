"""The comments at the top of a machine program."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterator

from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Machine

LINE_LENGTH = 79
"""Longest line, its end not counted: with it the 80 characters that small controllers take in.
RS-274/NGC allows 256 (NISTIR 6556, section 3.3)."""

CAUTIONS = (
    "Never leave a running laser unattended. Keep a way to put out a fire at hand.",
    "Follow the manual of the machine and local rules: they come before this file.",
)

_PLAIN_SIGNS = str.maketrans(
    {"×": "x", "–": "-", "—": "-", "°": " deg", "²": "2", "ß": "ss", "’": "'"}
)
_NOT_SAFE = re.compile(r"[^A-Za-z0-9 .,:+=/_'-]")


def comment_text(text: str) -> str:
    """Return ``text`` safe to stand in a comment.

    Only ASCII letters, digits and a few marks pass. Brackets would end or nest the comment, a
    percent sign ends a program, and controllers of the GRBL type obey ``?``, ``!`` and ``~``
    wherever they stand in the stream, comments included.
    """
    spread = unicodedata.normalize("NFKD", " ".join(text.translate(_PLAIN_SIGNS).split()))
    bare = "".join(sign for sign in spread if not unicodedata.combining(sign))
    return _NOT_SAFE.sub("_", bare.replace(";", ","))


def header_lines(sheet: PlannedSheet, machine: Machine) -> Iterator[str]:
    """Yield comment lines: what is made, from what, how long, and the cautions."""
    material, size = sheet.material, sheet.sheet
    yield from comment_lines("Sheet", sheet.slug)
    yield from comment_lines("Machine", machine.name)
    yield from comment_lines("Material", f"{material.name}, {material.thickness_mm:g} mm")
    yield from comment_lines("Size", f"{size.name}, {size.width_mm:g} x {size.height_mm:g} mm")
    yield from comment_lines("Parts", str(len(sheet.parts)))
    yield from comment_lines("Time", minutes(sheet.times.total_s))
    if machine.invented or material.invented:
        yield from comment_lines("Caution", "Settings invented for an example. Test before use.")
    for caution in (*CAUTIONS, *material.cautions):
        yield from comment_lines("Caution", caution)


def minutes(seconds: float) -> str:
    """Return a time as a person reads it, to the second."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    parts = (f"{hours} h " if hours else "") + (f"{rest // 60} min " if whole >= 60 else "")
    return f"{parts}{rest % 60} s"


def comment_lines(label: str, text: str) -> Iterator[str]:
    """Yield a comment's lines; the label keeps user text from starting with a control word."""
    room = LINE_LENGTH - len(f"({label}: )")
    for piece in textwrap.wrap(comment_text(text), room) or [""]:
        yield f"({label}: {piece})"
