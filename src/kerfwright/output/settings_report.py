"""A controller's settings beside the machine file, for people."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rich.console import Console
from rich.table import Table

from kerfwright.output.machine_file import Value
from kerfwright.output.summary import print_findings
from kerfwright.shop.controller_settings import SettingsRead
from kerfwright.shop.machine import Machine

_PLACE = re.compile(r"(.*)\[(\d)\]")


def print_settings(
    machine: Machine,
    read: SettingsRead,
    values: Mapping[str, Value],
    console: Console | None = None,
) -> None:
    """Print every key that a setting decides, before and after, then what was noticed."""
    console = console or Console()
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column("key")
    for name in ("before", "after", "setting"):
        table.add_column(name, justify="right")
    for key, after in values.items():
        number = read.from_setting.get(key)
        table.add_row(
            key.replace("[", "\\["),
            _said(value_at(machine, key)),
            _said(after),
            f"${number}" if number is not None else "",
        )
    if values:
        console.print(table)
        console.print()
    print_findings(read.findings, console)


def value_at(machine: Machine, key: str) -> Value:
    """The machine's value of a key such as ``travel.speed_mm_s[1]``."""
    found = _PLACE.fullmatch(key)
    holder: object = machine
    for step in (found[1] if found else key).split("."):
        holder = getattr(holder, step)
    value: Value = holder[int(found[2]) - 1] if found else holder  # type: ignore[index, assignment]
    return value


def _said(value: Value) -> str:
    return "not set" if value is None else f"{value:.6g}"
