"""Changes an order file as a person would: line by line, comments and layout kept."""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any

import tomlkit
from pydantic import BaseModel, ConfigDict, Field
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Table, Whitespace

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_order
from kerfwright.shop.named_files import paths_of
from kerfwright.shop.order import Order
from kerfwright.web.changing import changed_elsewhere
from kerfwright.web.workshop import is_within

_CANNOT_BE_MADE = (
    LookupError,
    TypeError,
    ValueError,
    AttributeError,
    TOMLKitError,
    RecursionError,
)


class Change(BaseModel):
    """One value of the order file: where it stands, and what it is to be.

    ``at`` leads there: ``["items", 0, "quantity"]``, ``["settings", "engrave"]``. A number as long
    as its list adds to it; ``null`` takes the value away. Days come as ``"2026-05-04"``.
    """

    model_config = ConfigDict(extra="forbid")

    at: Annotated[tuple[str | int, ...], Field(min_length=1, max_length=8)]
    value: Any = None


def save_changes(file: Path, changes: Sequence[Change], within: Path | None = None) -> None:
    """Change an order file, if it is still an order afterwards; else leave it as it is.

    With ``within``, the changes must not make it name files outside that folder.

    Raises:
        KerfwrightError: a change leads nowhere, or the order would be wrong.
    """
    before = order_text(file)
    save_order_text(file, changed_text(before, changes, str(file)), before, within)


def order_text(file: Path) -> str:
    """Return an order file's text, its line ends as they are.

    Raises:
        KerfwrightError: it cannot be read.
    """
    try:
        return file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        code, thing = "order/file-missing", f"the file cannot be read ({error.strerror})."
    except UnicodeDecodeError:
        code, thing = "order/not-toml", "the file is not UTF-8 text."
    remedy = "See in an editor that the file is there, and save it as UTF-8."
    raise KerfwrightError(code, file=str(file), thing=thing, remedy=remedy)


def save_order_text(file: Path, text: str, before: str, within: Path | None = None) -> None:
    """Write an order file, if the text is an order and the file still holds ``before``.

    Raises:
        KerfwrightError: it is not.
    """
    order = _order_of(file, text)
    if within is not None:
        _require_within(order, file, before, within)
    with whole_file(file) as path:
        path.write_bytes(text.encode("utf-8"))
        # an editor knows nothing of our locks: what it wrote since must not be lost
        if order_text(file) != before:
            raise changed_elsewhere(file.name)


def _order_of(file: Path, text: str) -> Order:
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / file.name
        trial.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            return load_order(trial)
        except KerfwrightError as error:
            thing = error.thing.replace(str(trial), file.name)
            raise KerfwrightError(
                error.code, file=str(file), thing=thing, remedy=error.remedy
            ) from None


def _require_within(order: Order, file: Path, before: str, within: Path) -> None:
    """Refuse paths out of a folder; those that whoever wrote the file gave may stay."""
    outside = [path for path in paths_of(order) if not is_within(file.parent / path, within)]
    if not outside:
        return
    allowed: tuple[str, ...] = ()
    with suppress(KerfwrightError):
        allowed = paths_of(_order_of(file, before))
    for path in outside:
        if path not in allowed:
            raise KerfwrightError(
                "pages/leads-outside",
                file=path,
                thing="this path leads out of the workshop's folder, or nowhere.",
                remedy="Copy the file into the workshop's folder, or name it in the order file "
                "with an editor.",
            )


def changed_text(text: str, changes: Sequence[Change], name: str) -> str:
    """Return an order file's text with the changes made.

    Raises:
        KerfwrightError: ``order/change-leads-nowhere`` or ``order/not-toml``.
    """
    try:
        document = tomlkit.parse(text)
        for change in changes:
            _make(document, change)
        return tomlkit.dumps(document)
    except _CANNOT_BE_MADE as error:
        raise KerfwrightError(
            "order/change-leads-nowhere",
            file=name,
            thing=f"the change cannot be made ({error}).",
            remedy="Load the page again: the file may have been changed elsewhere.",
        ) from None


def _make(document: Any, change: Change) -> None:
    place, above = document, document
    held: list[Any] = []
    for step, after in zip(change.at, change.at[1:], strict=False):
        if isinstance(step, str) and step not in place:
            if isinstance(place, Table):
                held = _cut_tail(place)
            else:
                _add_tail(place, [_blank_line()])
            place[step] = tomlkit.aot() if isinstance(after, int) else tomlkit.table()
        above, place = place, place[step]
    last = change.at[-1]
    if change.value is None:
        if isinstance(place, AoT) and isinstance(last, int):
            _take_out(above, place, last, change.at[-2])
        elif isinstance(last, int) or last in place:
            del place[last]
    elif isinstance(last, int) and last == len(place):
        _append(place, _as_toml(change.value, inline=isinstance(place, Array)), held)
    elif isinstance(place, AoT) and isinstance(last, int):
        held = _cut_tail(place[last])
        place[last] = _as_toml(change.value, inline=False)
        _add_tail(place[last], held)
    else:
        place[last] = _as_toml(_dated(last, change.value), inline=isinstance(place, Array))


def _append(place: Any, value: Any, held: list[Any]) -> None:
    """Add to a list. What stands behind the last of its tables heads what follows it."""
    if not isinstance(place, AoT):
        place.append(value)
        return
    held = held or (_cut_tail(place[-1]) if len(place) else [])
    place.append(value)
    _add_tail(place[-1], held)


def _take_out(above: Any, place: AoT, number: int, name: str | int) -> None:
    """Take a table out of a list, but not the comments behind it, which head what follows."""
    held = _cut_tail(place[number])
    del place[number]
    if not len(place):
        del above[name]
    _add_tail(place[max(number - 1, 0)] if len(place) else above, held)


def _cut_tail(table: Any) -> list[Any]:
    """Take blank lines and comments off the end of a table, all but one blank line."""
    body = _last_body(table)
    first = next((n + 1 for n in reversed(range(len(body))) if body[n][0] is not None), 0)
    tail = body[first:]
    del body[first:]
    if tail:
        body.append(_blank_line())
    return tail


def _add_tail(table: Any, tail: Sequence[Any]) -> None:
    body = _last_body(table)
    if tail and body and isinstance(body[-1][1], Whitespace):
        del body[-1]
    body.extend(tail)


def _blank_line() -> tuple[None, Whitespace]:
    return None, Whitespace("\n")


def _last_body(table: Any) -> list[Any]:
    """The body that stands last in a table: its own, or that of the table in it that ends it."""
    container = table if isinstance(table, Container) else table.value
    body: list[Any] = container.body
    last = next((one for key, one in reversed(body) if key is not None), None)
    if isinstance(last, AoT) and len(last):
        return _last_body(last[-1])
    return _last_body(last) if isinstance(last, Table) else body


def _as_toml(value: Any, *, inline: bool) -> Any:
    if not isinstance(value, dict):
        return tomlkit.item(value)
    table: Any = tomlkit.inline_table() if inline else tomlkit.table()
    for key, one in value.items():
        if one is not None:
            table[key] = _dated(key, one)
    return table


def _dated(key: str | int, value: Any) -> Any:
    """JSON has no days, and TOML has."""
    if key != "due" or not isinstance(value, str):
        return value
    return datetime.date.fromisoformat(value)
