"""The command that opens the pages. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from kerfwright.cli.records import RecordsPlace

Command = Callable[..., Any]

PORT = 8467

BEYOND_THIS_COMPUTER = (
    "Caution: other computers can reach this address. Whoever has it can see and change every "
    "order; what is sent is not encrypted. Use it only in a network whose people you trust."
)


def add_serve_command(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``serve``."""
    app.command()(told_plainly(serve))


def serve(
    folder: Annotated[
        Path, typer.Argument(help="The workshop's folder: machine, materials, orders.")
    ] = Path(),
    host: Annotated[
        str, typer.Option(help="Address to listen on; others than this computer need a token.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 for any free one.")] = PORT,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the pages in the browser.")
    ] = True,
    records: RecordsPlace = None,
) -> None:
    """Open the workshop as pages on this computer, until Ctrl-C."""
    import webbrowser

    from kerfwright.web.serving import serve as run

    def started(address: str) -> None:
        typer.echo(f"Open {address}\nCtrl-C ends it. A burning laser is never left alone.")
        if "?token=" in address:
            typer.echo(BEYOND_THIS_COMPUTER, err=True)
        if browser:
            webbrowser.open(address)

    run(folder, host=host, port=port, records=records, started=started)
