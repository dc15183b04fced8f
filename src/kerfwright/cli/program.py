"""The command ``program``: one part of a written plan again, or the rest of a sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.errors import KerfwrightError

NOT_PROVEN = 3

Command = Callable[..., None]


def add_program_command(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``program``."""
    app.command()(told_plainly(program))


def program(  # noqa: PLR0913, PLR0917 – options of one command
    plan: Annotated[Path, typer.Argument(help="Folder that plan wrote.")],
    sheet: Annotated[int, typer.Option(min=1, help="Number of the sheet.")],
    out: Annotated[Path | None, typer.Option(help="The program to write: FILE.nc.")] = None,
    part: Annotated[
        str | None, typer.Option(help="Make only this part again: NAME#2 is the second NAME.")
    ] = None,
    from_line: Annotated[
        int | None, typer.Option(min=1, help="Go on from this line of the sheet's program.")
    ] = None,
    after_part: Annotated[
        str | None, typer.Option(help="Go on after the last burn of this part.")
    ] = None,
    marks: Annotated[
        str | None, typer.Option(help='Two marks in the program\'s coordinates: "x1,y1 x2,y2".')
    ] = None,
    read: Annotated[
        str | None, typer.Option(help="Where the two marks lie on the bed, read at the machine.")
    ] = None,
    tolerance: Annotated[
        float, typer.Option(min=0.0, help="Most that the marks' distance may be off, in mm.")
    ] = 0.3,
) -> None:
    """Prove a sheet's program again; write one part or the rest of it, or turn it to two marks."""
    from kerfwright.output import reburn
    from kerfwright.output.registered import registered, two_points
    from kerfwright.output.text import duration, length, printable

    chosen = [way for way in (part, from_line, after_part, marks or read) if way is not None]
    half = (marks is None) != (read is None)
    if half or len(chosen) > 1 or bool(chosen) != (out is not None):
        raise KerfwrightError(
            "program/what-to-write",
            file="kerfwright program",
            thing="it is not clear what to write.",
            remedy="Give one of --part, --from-line, --after-part, or --marks with --read, and the "
            "file with --out; or none of them to have the sheet's program proven again.",
        )
    found = None
    if marks is not None and read is not None:
        from kerfwright.program.registration import registration_of

        pairs = two_points(marks, "--marks"), two_points(read, "--read")
        found = registration_of(*pairs, tolerance_mm=tolerance)
    try:
        written = reburn.read_sheet(plan, sheet)
        if out is None:
            typer.echo(f"{written.program.name} is unchanged and was proven again. Its parts are:")
            width = max(len(printable(name)) for name in written.part_names)
            for name, lying in zip(written.part_names, written.sheet.parts, strict=True):
                typer.echo(f"  {printable(name):{width}}  {_place(lying.outline.bounds_mm)}")
            return
        if found is not None:
            excerpt = registered(written, found)
        elif part is not None:
            excerpt = reburn.one_part(written, part)
        elif after_part is not None:
            excerpt = reburn.rest_after_part(written, after_part)
        else:
            excerpt = reburn.rest_from_line(written, from_line or 1)
        reburn.write_excerpt(excerpt, out)
    except reburn.UnprovenExcerptError as unproven:
        typer.echo(f"{unproven.program}: not proven; nothing was written.", err=True)
        for fault in unproven.faults:
            typer.echo(f"  {fault}", err=True)
        typer.echo("  More: kerfwright help verification/program-not-proven", err=True)
        raise typer.Exit(NOT_PROVEN) from None
    if found is not None:
        x, y = found.moved_mm
        typer.echo(
            f"{out}: turned by {found.turned_deg:.3f}°, its marks' middle moved by x {x:.2f}, "
            f"y {y:.2f} mm; the marks were read {found.apart_mm:+.3f} mm apart from what they "
            f"should be. {duration(excerpt.time_s)}; read back and proven. It burns "
            f"{_place(excerpt.bounds_mm)} from the machine's zero. Run its outline with the beam "
            "off first."
        )
        return
    typer.echo(
        f"{out}: {length(excerpt.burned_mm)} to burn, {duration(excerpt.time_s)}; read back and "
        f"proven. It burns where the part lay: {_place(excerpt.bounds_mm)} from the zero of the "
        "sheet's program. Lay material there that has not been cut."
        if part is not None
        else f"{out}: {length(excerpt.burned_mm)} left to burn, {duration(excerpt.time_s)}; read "
        "back and proven. Use it only if neither sheet nor zero has moved since."
    )


def _place(bounds_mm: tuple[float, float, float, float]) -> str:
    x0, y0, x1, y1 = bounds_mm
    return f"x {x0:.1f} to {x1:.1f}, y {y0:.1f} to {y1:.1f} mm"
