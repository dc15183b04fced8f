"""The command line; each module holds the commands for one matter."""

from kerfwright.cli.commands import BAD_INPUT, NOT_PROVEN, app, main

__all__ = ["BAD_INPUT", "NOT_PROVEN", "app", "main"]
