"""The one error that a user is meant to read."""

from __future__ import annotations


class KerfwrightError(Exception):
    """Input that cannot be worked with: names the file, the thing and the remedy.

    ``code`` is ``page/slug``: the page under ``docs/help`` and the heading on it that
    explain the error, for example ``order/unknown-key``.
    """

    def __init__(self, code: str, *, file: str, thing: str, remedy: str) -> None:
        super().__init__(f"{file}: {thing} {remedy}")
        self.code = code
        self.file = file
        self.thing = thing
        self.remedy = remedy
