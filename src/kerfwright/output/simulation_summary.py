"""A timed program for people."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.output.simulation import MovesRecord, SettingRecord, Simulation
from kerfwright.output.text import duration, energy, length, printable, short_number

MOST_SETTINGS = 8
"""Settings that are printed; a photo has hundreds of powers."""

SMALLEST_CAUSE_S = 0.05
"""Less would be printed as 0.0 s."""


def print_simulation(result: Simulation, console: Console | None = None) -> None:
    """Print a timed program."""
    console = console or Console()
    console.print(Text(printable(result.program), style="bold"))
    for line in _sentences(result):
        console.print(line, markup=False, highlight=False)
    console.print()
    console.print(_kinds(result))
    if result.settings:
        console.print()
        console.print(_settings(result.settings))
    console.print()
    console.print(_causes(result))
    for note in result.notes:
        console.print(Text(printable(note)))


def _sentences(result: Simulation) -> list[str]:
    lines = [
        f"{duration(result.time_s)} on {printable(result.machine)}: burning "
        f"{duration(result.burn_s)}, beam off {duration(result.travel_s)}, standing "
        f"{duration(result.wait_s)}; {number_of(result.moves, 'move')} in "
        f"{number_of(result.lines, 'line')}",
        f"{length(result.length_mm)} at {_speed(result.mean_speed_mm_s)} on average; beam on "
        f"{result.beam_on_share:.0%} of the time, mean power {result.mean_power_share:.1%}; "
        f"{energy(result.energy_j)}, power "
        + ("follows speed" if result.power_follows_speed else "constant at any speed"),
    ]
    peak = result.peak_line_energy
    if peak is not None:
        lines.append(
            f"most on one spot's width of a line: {short_number(peak.j_mm, 3)} J/mm at "
            f"x {peak.x_mm:.2f}, y {peak.y_mm:.2f} mm (line {peak.line})"
        )
    travel = result.longest_travel
    if travel is not None:
        lines.append(
            f"longest travel: {length(travel.length_mm)} in {duration(travel.time_s)} "
            f"(line {travel.line})"
        )
    if result.bounds_mm is not None:
        x0, y0, x1, y1 = result.bounds_mm
        lines.append(f"x {x0:.2f} to {x1:.2f} mm, y {y0:.2f} to {y1:.2f} mm")
    return lines


def _kinds(result: Simulation) -> Table:
    table = _table("moves", "count", "length", "mean speed", "energy", "time")
    for one in result.kinds:
        table.add_row(one.kind, *_sums(one))
    return table


def _settings(settings: Sequence[SettingRecord]) -> Table:
    """A program does not say which burns are cuts; what it says is their power and speed."""
    table = _table("burns at power, speed", "count", "length", "mean speed", "energy", "time")
    table.add_column("per length", justify="right", no_wrap=True)
    for one in settings[:MOST_SETTINGS]:
        name = f"{short_number(100.0 * one.power, 1)} %, {_speed(one.speed_mm_s)}"
        table.add_row(name, *_sums(one), f"{short_number(one.line_energy_j_mm, 3)} J/mm")
    rest = settings[MOST_SETTINGS:]
    if rest:
        seconds = sum(one.time_s for one in rest)
        table.add_row(f"{len(rest)} more", "", "", "", "", duration(seconds), "")
    return table


def _causes(result: Simulation) -> Table:
    table = _table("where the time goes", "time", "share")
    for one in result.causes:
        if one.time_s < SMALLEST_CAUSE_S:
            continue
        share = one.time_s / result.time_s if result.time_s > 0.0 else 0.0
        table.add_row(one.cause, duration(one.time_s), f"{share:.0%}")
    return table


def _table(first: str, *others: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column(first)
    for name in others:
        table.add_column(name, justify="right", no_wrap=True)
    return table


def _sums(one: MovesRecord) -> tuple[str, ...]:
    return (
        str(one.moves),
        length(one.length_mm),
        _speed(one.mean_speed_mm_s),
        energy(one.energy_j),
        duration(one.time_s),
    )


def _speed(speed_mm_s: float) -> str:
    return f"{short_number(speed_mm_s, 1 if speed_mm_s < 100.0 else 0)} mm/s"
