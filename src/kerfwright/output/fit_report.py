"""What timed runs tell of a machine, for people."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.motion.fit_result import Estimate, Fit
from kerfwright.output.machine_file import Value, rounded
from kerfwright.output.text import printable
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun


def print_fit(
    fit: Fit, runs: Sequence[TimedRun], machine: Machine, console: Console | None = None
) -> None:
    """Print numbers before and after, how well each program fits, and what was set aside."""
    console = console or Console()
    kept = number_of(int(fit.kept.sum()), "reading")
    told = f"{printable(fit.machine.name)}: {kept}, spread {fit.spread:.1%} each"
    console.print(Text(told, style="bold"), soft_wrap=True)
    console.print()
    console.print(_numbers(fit.estimates))
    console.print()
    console.print(_programs(fit, runs))
    for line in remarks(fit, machine):
        console.print(Text(f"\n{line}"), soft_wrap=True)


def remarks(fit: Fit, machine: Machine) -> tuple[str, ...]:
    """What else there is to say: readings set aside, and numbers to be read with care."""
    said = [
        f"Program {one.run} reads {one.factor:.2g} times what the others say "
        f"({number_of(one.readings, 'reading')} set aside): time it again."
        for one in fit.off
    ]
    for one in fit.estimates:
        name = one.parameter.name
        if one.at_least:
            said.append(
                f"The {name} is at least {_said(one.after)} {one.parameter.unit}; more would "
                "change nothing in these programs. Make programs for the new machine file to see."
            )
        if not one.told:
            said.append(
                f"The readings say next to nothing of the {name}; it stays as it is. On this bed "
                "it may never be reached."
            )
    if fit.machine.slows_in_curves != machine.slows_in_curves:
        now = "does" if fit.machine.slows_in_curves else "does not"
        said.append(
            f"The loops tell that the controller {now} slow down in curves: slows_in_curves = "
            f"{str(fit.machine.slows_in_curves).lower()}."
        )
    if _rule_changed(fit, machine):
        rule = "deviation" if fit.machine.corner_speed_mm_s is None else "speed"
        said.append(
            f"Zigzags and stairs tell that the controller limits the {rule} at corners; the rule "
            "of the machine file fits the readings less well."
        )
    said.append(
        "The beam's delay (beam_delay_s) cannot be seen with the beam off; it stays as it is."
    )
    return tuple(said)


def fitted_values(fit: Fit, machine: Machine) -> dict[str, Value]:
    """What to write into the machine file, by key."""
    values: dict[str, Value] = {
        one.parameter.key: rounded(one.after) for one in fit.estimates if one.told
    }
    if fit.machine.slows_in_curves != machine.slows_in_curves:
        values["slows_in_curves"] = fit.machine.slows_in_curves
    if _rule_changed(fit, machine) and fit.machine.corner_speed_mm_s is None:
        values["corner_speed_mm_s"] = None
    return values


def _rule_changed(fit: Fit, machine: Machine) -> bool:
    return (fit.machine.corner_speed_mm_s is None) != (machine.corner_speed_mm_s is None)


def run_differences(fit: Fit, run: int) -> np.ndarray:
    """How far each reading of a run is from the fitted machine, as a share of the time."""
    return np.asarray(fit.seconds[fit.run_of_reading == run] / fit.modelled_s[run] - 1.0)


def _numbers(estimates: Sequence[Estimate]) -> Table:
    table = _table("number")
    for name in ("before", "after", "95 % interval", "unit"):
        table.add_column(name, justify="left" if name == "unit" else "right")
    for one in estimates:
        table.add_row(
            one.parameter.name,
            "not set" if math.isnan(one.before) else _said(one.before),
            _said(one.after),
            _interval(one),
            one.parameter.unit,
        )
    return table


def _said(value: float) -> str:
    return f"{rounded(value):.10g}"


def _interval(one: Estimate) -> str:
    if not one.told:
        return "not told"
    if one.at_least:
        return f"at least {_said(one.low)}"
    if one.low == one.high:
        return "–"
    return f"{_said(one.low)} to {_said(one.high)}"


def _programs(fit: Fit, runs: Sequence[TimedRun]) -> Table:
    table = _table("program")
    for name in ("readings", "mean", "file said", "now says", "difference"):
        table.add_column(name, justify="right")
    for i, run in enumerate(runs):
        of_run = fit.run_of_reading == i
        if not of_run.any():
            table.add_row(run.name, "0", "–", f"{fit.before_s[i]:.1f} s", "–", "–")
            continue
        used = of_run & fit.kept
        mean = float(fit.seconds[used if used.any() else of_run].mean())
        aside = int((of_run & ~fit.kept).sum())
        table.add_row(
            run.name,
            f"{int(of_run.sum())}" + (f" ({aside} aside)" if aside else ""),
            f"{mean:.1f} s",
            f"{fit.before_s[i]:.1f} s",
            f"{fit.modelled_s[i]:.1f} s",
            f"{mean / fit.modelled_s[i] - 1.0:+.1%}",
        )
    return table


def _table(first: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column(first)
    return table
