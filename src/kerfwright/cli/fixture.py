"""The command ``fixture``: a drawing from which a fixture is cut."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.errors import KerfwrightError

Command = Callable[..., None]


def add_fixture_command(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``fixture``."""
    app.command()(told_plainly(fixture))


def fixture(
    order: Annotated[Path, typer.Argument(help="The order file (TOML), or a fixture's own file.")],
    out: Annotated[Path, typer.Option(help="The drawing to write: FILE.svg or FILE.dxf.")],
    name: Annotated[str | None, typer.Option(help="Which of the order's fixtures.")] = None,
    clearance: Annotated[
        float | None,
        typer.Option(min=0.0, max=20.0, help="How much wider than a blank a pocket is, all round."),
    ] = None,
    marks: Annotated[
        bool, typer.Option(help="Score two marks to read the board's place on the bed by.")
    ] = True,
) -> None:
    """Draw a fixture, to be planned and cut like any other drawing."""
    from kerfwright.fixtures.board import board_of
    from kerfwright.fixtures.board_file import write_board
    from kerfwright.fixtures.pockets import pockets_of
    from kerfwright.shop.faults import listed, nearest
    from kerfwright.shop.fixture_files import fixtures_in

    found = fixtures_in(order)
    chosen = next((one for one in found if one.name == name), None)
    if name is None and len(found) == 1:
        chosen = found[0]
    if chosen is None:
        like = nearest(name or "", [one.name for one in found])
        raise KerfwrightError(
            "fixtures/which-fixture",
            file=str(order),
            thing="there is no fixture in it."
            if not found
            else f'"{name}" is none of its fixtures.'
            if name
            else "it has several fixtures.",
            remedy=f'Did you mean "{like}"?'
            if like
            else f"Name one with --name: {listed(one.name for one in found)}."
            if found
            else "Add a [[fixtures]] block.",
        )
    board = board_of(
        pockets_of(chosen, order.parent, str(order)), clearance_mm=clearance, marks=marks
    )
    write_board(board, out)
    typer.echo(
        f"{out}: {board.width_mm:g} × {board.height_mm:g} mm with {len(board.pockets)} pockets. "
        "Lines are on size: the recipe for cutting knows the kerf."
    )
    if board.unnumbered:
        numbers = ", ".join(map(str, board.unnumbered))
        typer.echo(f"No room for the numbers of pockets {numbers}.")
    if board.marks_mm:
        x, y = chosen.at_mm
        places = " ".join(f"{x + a:g},{y + b:g}" for a, b in board.marks_mm)
        typer.echo(f'Its marks, for kerfwright program --marks: "{places}"')
    elif marks:
        typer.echo("There is no room for two marks in opposite corners.")
