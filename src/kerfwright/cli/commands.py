"""The commands. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from kerfwright import __version__
from kerfwright.cli.calibrate import add_calibrate_commands
from kerfwright.cli.fixture import add_fixture_command
from kerfwright.cli.orders import add_order_commands
from kerfwright.cli.program import add_program_command
from kerfwright.cli.quote import add_quote_command
from kerfwright.cli.recipes import add_recipe_commands, note_recipes
from kerfwright.cli.records import RecordsPlace, add_record_commands, runs_reader
from kerfwright.cli.serve import add_serve_command
from kerfwright.cli.stock import add_stock_commands, stock_reader
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity

BAD_INPUT = 2
NOT_PROVEN = 3

app = typer.Typer(
    name="kerfwright",
    help="Plans a small laser shop's order: drawings in, proven machine programs and tickets out.",
    epilog="Exit code 2: the input cannot be planned as it is. Exit code 3: a program failed "
    "verification and was not kept. A burning laser is never left alone; the machine's manual "
    "and local rules come first.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Run the command line."""
    app()


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"kerfwright {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version.", callback=_show_version, is_eager=True),
    ] = False,
) -> None:
    """Options before any command."""
    del version


@app.command()
def plan(
    order: Annotated[Path, typer.Argument(help="The order file (TOML).")],
    out: Annotated[Path, typer.Option(help="Folder for programs, layouts, plan and ticket.")],
    json: Annotated[bool, typer.Option("--json", help="Print plan.json, no summary.")] = False,
    records: RecordsPlace = None,
    nest_until: Annotated[
        str | None,
        typer.Option(help="When the search for places ends: 20s, 5min, stall or density=0.8."),
    ] = None,
) -> None:
    """Plan an order and write its programs, layouts, plan and ticket.

    Ctrl-C while places are searched for keeps the best layout so far; once more ends all.
    """
    with _told_plainly(), _progress() as say:
        say("Loading the planner; on a new computer this takes some minutes, once")
        from kerfwright.nesting.until import NO_END, until_of
        from kerfwright.output.sheet_writing import UnprovenProgramError
        from kerfwright.output.writing import require_folder, write_plan
        from kerfwright.planner import PlanStoppedError, plan_shop
        from kerfwright.recipe_book import note_shop
        from kerfwright.shop.files import load_shop
        from kerfwright.warm import warm

        require_folder(out)
        until = NO_END if nest_until is None else until_of(nest_until)
        shop = load_shop(order, stock_reader(records))
        warm()
        try:
            planned = plan_shop(shop, say, runs_reader(records), until)
            written = write_plan(planned, out, say)
        except PlanStoppedError as stopped:
            _stop(stopped.findings)
        except UnprovenProgramError as unproven:
            _not_proven(unproven.program, unproven.faults)
    note_recipes(records, lambda database, by: note_shop(database, shop, by=by))
    if json:
        typer.echo(written.plan_json.read_text(encoding="utf-8"), nl=False)
    else:
        from kerfwright.output.summary import print_plan

        print_plan(planned, written.sheets, out)


@app.command()
def inspect(
    drawing: Annotated[Path, typer.Argument(help="An SVG, DXF, PDF or picture file.")],
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    unit: Annotated[
        str | None, typer.Option(help="Unit of a DXF drawing that states none: mm, cm, in …")
    ] = None,
    page: Annotated[int | None, typer.Option(min=1, help="Page of a PDF.")] = None,
    width: Annotated[float | None, typer.Option(help="Width of a picture file in mm.")] = None,
    trace: Annotated[
        bool, typer.Option("--trace", help="Trace pictures made of dots into areas.")
    ] = False,
    order: Annotated[
        Path | None,
        typer.Option(help="Follow the rules and settings of this order, and check what it checks."),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw processes, parts and findings into this .svg or .png file."),
    ] = None,
) -> None:
    """Print what is in a drawing: size, shapes by process, parts and findings."""
    with _told_plainly(), _progress() as say:
        say(f"Reading {drawing.name}")
        from kerfwright.drawing.read import Choice
        from kerfwright.output.drawing_picture import drawing_picture, write_picture
        from kerfwright.output.inspection import inspected, inspection, print_inspection
        from kerfwright.prepare import prepare_drawing, prepare_item
        from kerfwright.shop.files import load_shop
        from kerfwright.shop.items import item_of_drawing

        shop = None if order is None else load_shop(order, stock_reader(None))
        item = None if shop is None else item_of_drawing(shop, drawing)
        unit_mm, width_mm = _unit_mm(unit), _width_mm(width)
        if shop is not None and item is not None:
            stated = {"unit": unit, "page": page, "width_mm": width_mm}
            stated |= {"pictures": "trace" if trace else None}
            changes = {key: value for key, value in stated.items() if value is not None}
            item = item.model_copy(update=changes)
            prepared = prepare_item(shop, item, drawing)
        else:
            choice = Choice(page, width_mm, "trace" if trace else "photo")
            prepared = prepare_drawing(drawing, unit_mm=unit_mm, choice=choice)
        alike, checks = inspected(prepared.parts, shop, item)
        findings = (*prepared.findings, *checks)
        found = inspection(prepared.drawing, prepared.shapes, prepared.parts, findings, alike)
        if picture is not None:
            say(f"Drawing {picture.name}")
            drawn = drawing_picture(prepared.drawing, prepared.shapes, prepared.parts, findings)
            write_picture(picture, drawn)
    if json:
        typer.echo(found.model_dump_json(indent=1))
    else:
        print_inspection(found, findings)
    if any(finding.severity is Severity.STOP for finding in findings):
        raise typer.Exit(BAD_INPUT)


@app.command()
def simulate(
    program: Annotated[Path, typer.Argument(help="A G-code program from anywhere.")],
    machine: Annotated[Path, typer.Option(help="The machine file (TOML).")],
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    trace: Annotated[
        Path | None,
        typer.Option(help="Also write position, speed and power over time: FILE.csv or .parquet."),
    ] = None,
    trace_step: Annotated[
        float | None,
        typer.Option(help="Seconds from row to row of the trace; else at every change."),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option(help="Also draw speed and power over time: FILE.svg.")
    ] = None,
) -> None:
    """Print what a program takes on a machine: time, speed and energy. Nothing is burned."""
    with _told_plainly(), _progress() as say:
        say(f"Reading {program.name}")
        from kerfwright.output.simulation import program_trace, simulation
        from kerfwright.output.simulation_files import require_names, write_files
        from kerfwright.output.simulation_summary import print_simulation
        from kerfwright.program.classify import classify
        from kerfwright.program.interpreter import read_program
        from kerfwright.shop.files import load_machine

        require_names(trace, trace_step, picture)
        limits = load_machine(machine)
        followed = classify(read_program(program, limits))
        traced = program_trace(followed, limits)
        result = simulation(followed, limits, traced)
        write_files(followed, limits, traced, trace=trace, step_s=trace_step, picture=picture)
    if json:
        typer.echo(result.model_dump_json(indent=1))
    else:
        print_simulation(result)


@app.command()
def why(
    plan: Annotated[Path, typer.Argument(help="Folder that plan wrote, or the plan.json in it.")],
    about: Annotated[
        str, typer.Argument(help="Words of what it is about: a layer, an item, engraving …")
    ] = "",
) -> None:
    """Print why a plan is as it is: every way computed, its cost, and how to overrule it."""
    with _told_plainly():
        from kerfwright.output.reasons import decisions_of, print_reasons

        print_reasons(decisions_of(plan, about))


@app.command("help")
def show_help(
    topic: Annotated[
        str, typer.Argument(help="A page, or page/heading as findings and errors name it.")
    ] = "index",
) -> None:
    """Print a help page; every finding and error names its own."""
    with _told_plainly():
        from rich.console import Console
        from rich.markdown import Markdown

        from kerfwright.output.help_pages import help_text

        page, _, heading = topic.partition("/")
        Console().print(Markdown(help_text(page, heading or None)))


def _unit_mm(unit: str | None) -> float | None:
    if unit is None:
        return None
    from kerfwright.shop.order import MM_PER_UNIT

    if unit not in MM_PER_UNIT:
        raise KerfwrightError(
            "drawing/dxf-without-units",
            file="--unit",
            thing=f'"{unit}" is not a unit of length known here.',
            remedy=f"Use one of {', '.join(MM_PER_UNIT)}.",
        )
    return MM_PER_UNIT[unit]


def _width_mm(width: float | None) -> float | None:
    if width is not None and not 0.0 < width < float("inf"):
        raise KerfwrightError(
            "drawing/picture-without-size",
            file="--width",
            thing=f"A picture cannot be {width:g} mm wide.",
            remedy="Give its width in mm, such as --width 80.",
        )
    return width


@contextmanager
def _told_plainly() -> Iterator[None]:
    try:
        yield
    except KerfwrightError as error:
        typer.echo(f"{error}\n  More: kerfwright help {error.code}", err=True)
        raise typer.Exit(BAD_INPUT) from None
    except (KeyboardInterrupt, SystemError) as stopped:
        # a compiled kernel that is interrupted wraps the interrupt in an error of its own
        if not _is_interrupt(stopped):
            raise
        typer.echo("Stopped; nothing was written.", err=True)
        raise typer.Exit(130) from None


def _is_interrupt(error: BaseException | None) -> bool:
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


class _Say:
    """Shows what is being done: a line that moves on a terminal, plain lines elsewhere."""

    def __init__(self) -> None:
        from rich.console import Console

        self._console = Console(stderr=True)
        self.status = self._console.status("") if self._console.is_terminal else None

    def __call__(self, what: str) -> None:
        if self.status is None:
            self._console.print(f"{what} …", markup=False, highlight=False, soft_wrap=True)
        else:
            self.status.update(f"{what} …")


@contextmanager
def _progress() -> Iterator[_Say]:
    say = _Say()
    if say.status is None:
        yield say
    else:
        with say.status:
            yield say


def _stop(findings: tuple[Finding, ...]) -> NoReturn:
    for finding in findings:
        if finding.severity is Severity.STOP:
            typer.echo(
                f"{finding.where}: {finding.what} {finding.remedy}\n"
                f"  More: kerfwright help {finding.code}",
                err=True,
            )
    raise typer.Exit(BAD_INPUT)


def _not_proven(program: str, faults: tuple[str, ...]) -> NoReturn:
    typer.echo(
        f"{program}: the program failed verification and was not kept; nothing was written.",
        err=True,
    )
    for fault in faults:
        typer.echo(f"  {fault}", err=True)
    typer.echo("  More: kerfwright help verification/program-not-proven", err=True)
    raise typer.Exit(NOT_PROVEN)


add_quote_command(app, _told_plainly(), _progress)
add_record_commands(app, _told_plainly())
add_calibrate_commands(app, _told_plainly())
add_program_command(app, _told_plainly())
add_fixture_command(app, _told_plainly())
add_stock_commands(app, _told_plainly())
add_order_commands(app, _told_plainly())
add_serve_command(app, _told_plainly())
add_recipe_commands(app, _told_plainly())
