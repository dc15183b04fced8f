"""Writes a machine file anew with other values, its comments and its order kept."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_machine

Value = float | int | bool | None
DIGITS = 4
"""Of a measured number: finer than any stopwatch."""

_KEY = re.compile(r"(?:(\w+)\.)?(\w+)(?:\[(\d)\])?")


def changed_machine_text(text: str, values: Mapping[str, Value]) -> str:
    """A machine file's text with some values changed.

    Keys are as in messages: ``settle_s``, ``travel.speed_mm_s[1]``. A value of ``None`` takes the
    key out.
    """
    document = tomlkit.parse(text)
    for key, value in values.items():
        found = _KEY.fullmatch(key)
        if found is None:
            raise ValueError(f"no key of a machine file: {key}")
        table, field, place = found.groups()
        holder: Any = document
        if table:
            if table not in document:
                document.add(table, tomlkit.table())
            holder = document[table]
        if value is None:
            holder.pop(field, None)
        elif place is None:
            holder[field] = value
        else:
            holder[field][int(place) - 1] = value
    return tomlkit.dumps(document)


def write_changed_machine(
    machine_file: Path, values: Mapping[str, Value], new_file: Path, *, overwrite: bool = False
) -> None:
    """Write ``new_file`` like ``machine_file``, some values changed; it is read back first.

    Raises:
        KerfwrightError: ``new_file`` is there already, or cannot be written.
    """
    if new_file.exists() and not overwrite:
        raise KerfwrightError(
            "calibration/in-the-way",
            file=str(new_file),
            thing="there is a file of this name already.",
            remedy="Give another name with --write, or say --overwrite.",
        )
    text = machine_file.read_bytes().decode("utf-8-sig")
    with whole_file(new_file) as path:
        path.write_text(changed_machine_text(text, values), encoding="utf-8", newline="")
        load_machine(path)


def rounded(value: float) -> float:
    """A measured number to four digits, whole where that is exact enough."""
    if value == 0.0:
        return 0
    places = DIGITS - 1 - math.floor(math.log10(abs(value)))
    short = round(value, places)
    return int(short) if short == int(short) else short
