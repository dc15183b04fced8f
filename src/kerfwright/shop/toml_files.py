"""Reads a TOML file into a model, with one clear error for whatever is wrong with it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import Fault, faults_of, nearest, raise_faults
from kerfwright.shop.machine import StrictModel

ModelT = TypeVar("ModelT", bound=StrictModel)


_MOST_PARTS = 16

_PART = r"""(?:[\w-]+|"[^"\n]*"|'[^'\n]*')"""

_LONG_KEY = re.compile(rf"(?<![\w-]){_PART}(?:[ \t]*\.[ \t]*{_PART}){{{_MOST_PARTS},}}")


def toml_of(text: str, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """Read TOML text that may come from a stranger.

    Keys of very many parts are refused, as reading one takes time that grows with the square of
    their number (CWE-407, Inefficient Algorithmic Complexity).

    Raises:
        ValueError: it is not TOML.
    """
    if _LONG_KEY.search(text):
        raise ValueError(f"a key has more than {_MOST_PARTS} parts")
    try:
        return tomllib.loads(text, parse_float=parse_float)
    except RecursionError:
        raise ValueError("brackets are nested too deep") from None


def read_table(page: str, path: Path, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """Read a TOML file; ``page`` is the help page of its kind.

    ``parse_float`` makes its numbers with a point, such as :class:`decimal.Decimal` for money.

    Raises:
        KerfwrightError: ``page/file-missing`` or ``page/not-toml``.
    """
    file = str(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
        return toml_of(text, parse_float)
    except FileNotFoundError:
        raise KerfwrightError(
            f"{page}/file-missing",
            file=file,
            thing=f"there is no such {page} file.",
            remedy=where_else(path) or "Check the path.",
        ) from None
    except OSError as error:
        raise KerfwrightError(
            f"{page}/file-missing",
            file=file,
            thing=f"the {page} file cannot be opened ({error.strerror}).",
            remedy="Give the path of a TOML file that you may read.",
        ) from None
    except ValueError as error:
        raise KerfwrightError(
            f"{page}/not-toml",
            file=file,
            thing=f"this is not TOML: {_toml_trouble(error)}.",
            remedy=_toml_remedy(path, str(error)),
        ) from None


def _toml_trouble(error: ValueError) -> str:
    if isinstance(error, UnicodeDecodeError):
        line = error.object[: error.start].count(b"\n") + 1
        return f"line {line} holds a byte that is not UTF-8 text"
    return str(error)


def _toml_remedy(path: Path, trouble: str) -> str:
    """What to do about the line that the trouble names: the usual slips have their own words."""
    number = re.search(r"at line (\d+)", trouble)
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except (OSError, ValueError):  # no path at all
        lines = []
    line = lines[int(number[1]) - 1] if number and int(number[1]) <= len(lines) else ""
    if re.search(r"=\s*[+-]?\d+,\d", line):
        return "Write decimals with a point, such as 200.5."
    if "\\" in line:
        return "Write paths with / between the folders, or in 'single quotes'."
    return (
        "Every line is a heading such as [settings] or a key with a value such as "
        'title = "Regatta"; texts stand in quotes, and a key stands once.'
    )


def validated(
    page: str, path: Path, model: type[ModelT], table: dict[str, Any], more: Iterable[Fault] = ()
) -> ModelT:
    """Make a model of a file's table; ``more`` are faults that the caller has found in it.

    Raises:
        KerfwrightError: keys or values are wrong, all of them in one message.
    """
    faults = list(more)
    try:
        result = model.model_validate(table)
    except ValidationError as error:
        faults += faults_of(error, model, table)
        raise_faults(page, str(path), faults, table)
        raise
    raise_faults(page, str(path), faults, table)
    return result


def where_else(path: Path) -> str:
    """Hint at what may have been meant by a path that leads nowhere."""
    if "\\" in path.name:
        return "Write / between folders, not \\."
    try:
        if not path.parent.is_dir():
            return f"There is no folder {path.parent} either."
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except (OSError, ValueError):
        return ""
    like = nearest(path.name, names)
    return f'There is a "{like}" in that folder; is that the one?' if like else ""
