"""What the readings of a trial piece tell, for people."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.output.text import printable
from kerfwright.shop.trial_pieces import TrialPiece
from kerfwright.trials.result import Result


def print_result(piece: TrialPiece, result: Result, console: Console | None = None) -> None:
    """Print every number with its interval, then what else there is to say."""
    console = console or Console()
    head = f"{piece.material}, {piece.thickness_mm:g} mm, on {piece.machine}"
    console.print(Text(printable(head), style="bold"), soft_wrap=True)
    console.print()
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column("")
    table.add_column("found", justify="right")
    table.add_column("95 % interval")
    for line in result.lines:
        table.add_row(line.name, line.value, line.interval)
    console.print(table)
    for remark in result.remarks:
        console.print(Text(f"\n{printable(remark)}"), soft_wrap=True)
