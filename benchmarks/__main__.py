"""``python -m benchmarks NAME [options] [--json]``: run one benchmark and show its figures."""

from __future__ import annotations

import importlib
import json
import pkgutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from kerfwright.errors import KerfwrightError


def names() -> list[str]:
    """Benchmarks there are: every module beside this one that has no underscore in front."""
    folder = str(Path(__file__).parent)
    return sorted(m.name for m in pkgutil.iter_modules([folder]) if not m.name.startswith("_"))


def main(argv: Sequence[str]) -> int:
    if not argv or argv[0] in ("-h", "--help"):
        print("usage: python -m benchmarks NAME [options] [--json]\n")
        print("benchmarks:", ", ".join(names()) or "none")
        return 0
    name, options = argv[0], [option for option in argv[1:] if option != "--json"]
    if name not in names():
        print(f"no benchmark {name!r}; there are: {', '.join(names())}", file=sys.stderr)
        return 2
    module = importlib.import_module(f"benchmarks.{name}")
    try:
        figures: dict[str, Any] = module.run(options)
    except KerfwrightError as fault:
        print(fault, file=sys.stderr)
        return 2
    if "--json" in argv:
        print(json.dumps(figures, indent=2))
    else:
        show(name, figures)
    return 0


def show(name: str, figures: dict[str, Any]) -> None:
    """Print single figures as a list and every list of rows as a table."""
    console = Console()
    tables = {key: value for key, value in figures.items() if _is_rows(value)}
    single = {key: value for key, value in figures.items() if key not in tables}
    console.print(f"[bold]{name}[/bold]")
    for key, value in single.items():
        console.print(f"  {key}: {_text(value)}")
    for key, rows in tables.items():
        columns = list(dict.fromkeys(column for row in rows for column in row))
        table = Table(*columns, title=key)
        for row in rows:
            table.add_row(*(_text(row.get(column, "")) for column in columns))
        console.print(table)


def _is_rows(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


def _text(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
