"""The commands for trial pieces. Everything heavy is imported by the command itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.cli.recipes import note_recipes
from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from kerfwright.trial_choices import TrialKind

Command = Callable[..., Any]
NOT_PROVEN = 3

Triple = tuple[float, float, int]

MachineFile = Annotated[Path, typer.Option(help="The machine file (TOML).")]
MaterialFile = Annotated[Path, typer.Option(help="The material file (TOML).")]
Out = Annotated[Path | None, typer.Option(help="Folder to write the piece's program and sheet to.")]
Readings = Annotated[Path | None, typer.Option(help="What was read: readings.toml, filled in.")]
Write = Annotated[Path | None, typer.Option("--write", help="New material file for the recipe.")]
WriteMachine = Annotated[Path | None, typer.Option("--write", help="New machine file.")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace the file of --write.")]
Labels = Annotated[
    tuple[float, float] | None,
    typer.Option(help="Speed in mm/s and power of scored labels; by default the score recipe's."),
]
Speed = Annotated[float | None, typer.Option(help="Speed in mm/s; by default the recipe's.")]
Power = Annotated[float | None, typer.Option(help="Power, 0 to 1; by default the recipe's.")]
Passes = Annotated[
    int | None,
    typer.Option(min=1, max=50, help="How often a line is burned; by default as the recipe says."),
]


def add_trial_commands(calibrate: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``calibrate`` the commands for trial pieces."""
    for command in (power, kerf, interval, grey, focus):
        calibrate.command()(told_plainly(command))


def kerf(  # noqa: PLR0913, PLR0917 – options of one command
    machine: MachineFile,
    material: MaterialFile,
    out: Out = None,
    speed: Speed = None,
    power: Power = None,
    passes: Passes = None,
    length: Annotated[float, typer.Option(min=30.0, max=400.0, help="Of a row in mm.")] = 80.0,
    labels: Labels = None,
    readings: Readings = None,
    write: Write = None,
    overwrite: Overwrite = False,
) -> None:
    """Cut rows of pieces (--out); the rows' lengths tell the kerf (--readings)."""
    _require_one("kerf", out, readings, write)
    if out is not None:
        _make(
            "kerf",
            machine,
            material,
            out,
            speed_mm_s=speed,
            power=power,
            passes=passes,
            length_mm=length,
            labels=labels,
        )
    elif readings is not None:
        _read("kerf", machine, material, readings, write, overwrite=overwrite)


def interval(  # noqa: PLR0913, PLR0917 – options of one command
    machine: MachineFile,
    material: MaterialFile,
    out: Out = None,
    intervals: Annotated[
        Triple | None, typer.Option(help="Finest and coarsest in mm, and how many.")
    ] = None,
    speed: Speed = None,
    power: Power = None,
    passes: Passes = None,
    labels: Labels = None,
    readings: Readings = None,
    write: Write = None,
    overwrite: Overwrite = False,
) -> None:
    """Engrave squares from fine to coarse (--out); the coarsest even one is taken (--readings)."""
    _require_one("interval", out, readings, write)
    if out is not None:
        _make(
            "interval",
            machine,
            material,
            out,
            speed_mm_s=speed,
            power=power,
            passes=passes,
            intervals=intervals,
            labels=labels,
        )
    elif readings is not None:
        _read("interval", machine, material, readings, write, overwrite=overwrite)


def power(  # noqa: PLR0913, PLR0917 – options of one command
    machine: MachineFile,
    material: MaterialFile,
    out: Out = None,
    powers: Annotated[
        Triple | None, typer.Option(help="Lowest and highest power, 0 to 1, and how many.")
    ] = None,
    speeds: Annotated[
        Triple | None, typer.Option(help="Lowest and highest speed in mm/s, and how many.")
    ] = None,
    process: Annotated[
        str, typer.Option(help="What the cells try: cut, score or engrave.")
    ] = "cut",
    interval: Annotated[
        float | None, typer.Option(help="Distance between lines in mm, to engrave.")
    ] = None,
    passes: Annotated[int, typer.Option(min=1, max=50, help="How often each cell is burned.")] = 1,
    labels: Labels = None,
    readings: Readings = None,
    margin: Annotated[
        float | None,
        typer.Option(help="More energy than the boundary's, as a fraction; by default 0.15."),
    ] = None,
    write: Write = None,
    overwrite: Overwrite = False,
) -> None:
    """Burn cells of several powers and speeds (--out); those that did it tell the setting."""
    _require_one("power", out, readings, write)
    if out is not None:
        _make(
            "power",
            machine,
            material,
            out,
            powers=powers,
            speeds=speeds,
            process=process,
            interval_mm=interval,
            passes=passes,
            labels=labels,
        )
    elif readings is not None:
        _read("power", machine, material, readings, write, overwrite=overwrite, margin=margin)


def focus(  # noqa: PLR0913, PLR0917 – options of one command
    machine: MachineFile,
    material: MaterialFile,
    out: Out = None,
    speed: Annotated[float | None, typer.Option(help="Speed of the lines in mm/s.")] = None,
    power: Annotated[float | None, typer.Option(help="Power of the lines, 0 to 1.")] = None,
    lines: Annotated[int, typer.Option(min=5, max=40, help="How many lines.")] = 13,
    labels: Labels = None,
    readings: Readings = None,
    write: WriteMachine = None,
    overwrite: Overwrite = False,
) -> None:
    """Burn lines on a board that leans (--out); their widths tell focus and spot (--readings)."""
    _require_one("focus", out, readings, write)
    if out is not None:
        _make(
            "focus",
            machine,
            material,
            out,
            speed_mm_s=speed,
            power=power,
            lines=lines,
            labels=labels,
        )
    elif readings is not None:
        _read("focus", machine, material, readings, write, overwrite=overwrite)


def grey(  # noqa: PLR0913, PLR0917 – options of one command
    machine: MachineFile,
    material: MaterialFile,
    out: Out = None,
    speed: Speed = None,
    power: Power = None,
    passes: Passes = None,
    interval: Annotated[
        float | None, typer.Option(help="Distance between rows in mm; by default the recipe's.")
    ] = None,
    method: Annotated[
        str | None, typer.Option(help='How shades are burned: "power", or a rule for dots.')
    ] = None,
    steps: Annotated[int, typer.Option(min=5, max=20, help="How many fields.")] = 11,
    labels: Labels = None,
    readings: Readings = None,
    write: Write = None,
    overwrite: Overwrite = False,
) -> None:
    """Burn a ramp of shades (--out); their darkness tells the grey curve (--readings)."""
    _require_one("grey", out, readings, write)
    if out is not None:
        _make(
            "grey",
            machine,
            material,
            out,
            speed_mm_s=speed,
            power=power,
            passes=passes,
            interval_mm=interval,
            method=method,
            steps=steps,
            labels=labels,
        )
    elif readings is not None:
        _read("grey", machine, material, readings, write, overwrite=overwrite)


def _require_one(kind: str, out: Path | None, readings: Path | None, write: Path | None) -> None:
    if (out is None) == (readings is None):
        raise _unclear(kind, "it needs either --out or --readings.")
    if out is not None and write is not None:
        raise _unclear(kind, "--write goes with --readings.")


def _make(kind: TrialKind, machine: Path, material: Path, out: Path, **choices: Any) -> None:
    typer.echo("Planning the piece …", err=True)
    from rich.console import Console

    from kerfwright.output.summary import print_findings
    from kerfwright.output.text import duration
    from kerfwright.output.trial_files import PRINTED_FILE, SHEET_FILE
    from kerfwright.output.trial_program import UnprovenTrialError
    from kerfwright.recipe_trials import make_trial
    from kerfwright.shop.readings import READINGS_FILE
    from kerfwright.trial_choices import TrialChoices, draw_of, marking_of

    asked = TrialChoices(kind, **choices)
    draw, marking = draw_of(asked, lambda name: f"--{name}"), marking_of(asked)
    try:
        trial, findings = make_trial(draw, machine, material, out, marking)
    except UnprovenTrialError as unproven:
        typer.echo(f"{unproven.program}: not proven; nothing was written.", err=True)
        for fault in unproven.faults:
            typer.echo(f"  {fault}", err=True)
        typer.echo("  More: kerfwright help calibration/not-proven", err=True)
        raise typer.Exit(NOT_PROVEN) from None
    print_findings(findings, Console(stderr=True))
    width, height = trial.design.size_mm
    typer.echo(
        f"{trial.design.title.capitalize()} in {out}: {width:.0f} × {height:.0f} mm, "
        f"{duration(trial.sheet.times.total_s)}, read back and proven."
    )
    if not trial.marked:
        typer.echo("The piece bears no labels: give --labels SPEED POWER to have them scored.")
    typer.echo(
        "Untried settings catch fire sooner than others: stay with it, extraction on, a way to "
        "put out a fire at hand. The machine's manual and local rules come first."
    )
    typer.echo(f"Print {PRINTED_FILE} or {SHEET_FILE}, burn, and fill in {READINGS_FILE}.")


def _read(
    kind: str,
    machine: Path,
    material: Path,
    readings: Path,
    write: Path | None,
    *,
    overwrite: bool,
    margin: float | None = None,
) -> None:
    from kerfwright.output.trial_report import print_result
    from kerfwright.recipe_book import note_trial
    from kerfwright.recipe_trials import read_trial, write_result
    from kerfwright.shop.files import load_machine, load_material
    from kerfwright.trials.power_fit import MARGIN

    if margin is not None and not 0.0 <= margin <= 2.0:
        raise _unclear(kind, "--margin is a fraction from 0 to 2.", "0.15 is 15 % more energy.")
    piece, result = read_trial(
        kind, machine, material, readings, margin=MARGIN if margin is None else margin
    )
    print_result(piece, result)
    if write is not None:
        before = load_machine(machine), (load_material(material), material)
        write_result(piece, result, machine, material, write, overwrite=overwrite)
        typer.echo(f"Written: {write}")
        of_machine = result.process is None
        note_recipes(
            None,
            lambda database, by: note_trial(database, *before, write, of_machine=of_machine, by=by),
        )


def _unclear(kind: str, thing: str, remedy: str = "") -> KerfwrightError:
    from kerfwright.trial_choices import unclear_trial

    how = "Make the piece with --out FOLDER; later give what was read with --readings FILE."
    return unclear_trial(kind, thing, remedy or how)
