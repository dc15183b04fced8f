"""The commands that measure a machine. Everything heavy is imported by the command itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from kerfwright.cli.trials import add_trial_commands
from kerfwright.errors import KerfwrightError

Command = Callable[..., Any]
NOT_PROVEN = 3

NewFile = Annotated[
    Path | None, typer.Option("--write", help="New machine file; an existing one is kept.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace the file of --write.")]
MachineFile = Annotated[Path, typer.Option(help="The machine file (TOML).")]


def add_calibrate_commands(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the commands that measure a machine and its materials."""
    calibrate = typer.Typer(
        name="calibrate",
        help="Measure a machine, take over its controller's settings, or find a material's recipe.",
        no_args_is_help=True,
    )
    calibrate.command()(told_plainly(motion))
    calibrate.command()(told_plainly(settings))
    add_trial_commands(calibrate, told_plainly)
    app.add_typer(calibrate)


def motion(
    machine: MachineFile,
    out: Annotated[
        Path | None, typer.Option(help="Folder to write timed programs and a sheet to.")
    ] = None,
    readings: Annotated[
        Path | None, typer.Option(help="What was timed: readings.toml, or program,seconds in .csv.")
    ] = None,
    write: NewFile = None,
    overwrite: Overwrite = False,
    picture: Annotated[
        Path | None, typer.Option(help="Also draw how far each reading is off: FILE.svg.")
    ] = None,
) -> None:
    """Make programs that time a machine without burning (--out), then fit it to their seconds.

    First: kerfwright calibrate motion --machine M.toml --out FOLDER. Then run the programs, fill
    in FOLDER/readings.toml, and give it with --readings.
    """
    if (out is None) == (readings is None):
        raise _unclear("it needs either --out or --readings.")
    if out is not None:
        if write is not None or picture is not None:
            raise _unclear("--write and --picture go with --readings.")
        _make_runs(machine, out)
    elif readings is not None:
        _measure(machine, readings, write, picture, overwrite=overwrite)


def settings(
    file: Annotated[Path, typer.Argument(help="The controller's list: lines such as $110=30000.")],
    machine: MachineFile,
    write: NewFile = None,
    overwrite: Overwrite = False,
) -> None:
    """Take a controller's own settings over into a machine file."""
    from kerfwright.calibration import take_settings
    from kerfwright.output.machine_file import write_changed_machine
    from kerfwright.output.settings_report import print_settings

    taken = take_settings(file, machine)
    print_settings(taken.machine, taken.read, taken.values)
    if write is not None:
        write_changed_machine(machine, taken.values, write, overwrite=overwrite)
        typer.echo(f"Written: {write}")


def _make_runs(machine: Path, out: Path) -> None:
    typer.echo("Choosing programs …", err=True)
    from kerfwright.calibration import make_runs
    from kerfwright.findings import number_of
    from kerfwright.output.text import duration
    from kerfwright.output.timing_programs import SHEET_FILE, BurningRunError
    from kerfwright.shop.readings import READINGS_FILE

    try:
        design = make_runs(machine, out)
    except BurningRunError as burning:
        typer.echo(f"{burning.program}: not proven; nothing was written.", err=True)
        for fault in burning.faults:
            typer.echo(f"  {fault}", err=True)
        typer.echo("  More: kerfwright help calibration/not-proven", err=True)
        raise typer.Exit(NOT_PROVEN) from None
    programs = number_of(len(design.runs.runs), "program")
    total = duration(float(design.seconds.sum()))
    typer.echo(
        f"{programs} in {out}, {total} in all, proven to keep the beam off. Print "
        f"{SHEET_FILE}, time each three times, and fill in {READINGS_FILE}."
    )
    for parameter in design.untold:
        typer.echo(f"No program on this bed shows the {parameter.name}; it stays as it is.")


def _measure(
    machine: Path, readings: Path, write: Path | None, picture: Path | None, *, overwrite: bool
) -> None:
    typer.echo("Fitting …", err=True)
    from kerfwright.calibration import measure, write_measured
    from kerfwright.output.fit_picture import fit_picture
    from kerfwright.output.fit_report import print_fit
    from kerfwright.output.whole_file import whole_file

    measured = measure(machine, readings)
    print_fit(measured.fit, measured.runs, measured.machine)
    if picture is not None:
        with whole_file(picture) as path:
            path.write_text(fit_picture(measured.fit, measured.runs), encoding="utf-8")
        typer.echo(f"Drawn: {picture}")
    if write is not None:
        write_measured(measured, machine, write, overwrite=overwrite)
        typer.echo(f"Written: {write}")


def _unclear(thing: str) -> KerfwrightError:
    return KerfwrightError(
        "calibration/unclear-command",
        file="calibrate motion",
        thing=thing,
        remedy="Make the programs with --out FOLDER; later give their times with --readings FILE.",
    )
