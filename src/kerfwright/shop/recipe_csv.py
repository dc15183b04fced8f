"""Recipes as a table for spreadsheets: one row a recipe, one column a key (RFC 4180, in UTF-8)."""

from __future__ import annotations

import csv
import datetime
import io
import json
import re
import types
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Union, get_args, get_origin

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import listed, nearest
from kerfwright.shop.files import material_of_table
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.recipe_versions import RecipeVersion

WHICH = ("machine", "material", "thickness_mm", "process")

COLUMNS = (*WHICH, *(key for key in Recipe.model_fields if key not in WHICH))

NEEDED = (*WHICH, "speed_mm_s", "power")

NOTHING_TAKEN = "Nothing was taken in."

MOST_TOLD = 12
"""So many wrong rows are told at once."""


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """A recipe of a table: the material has this one recipe, and nothing else is known of it."""

    line: int
    material: Material

    @property
    def recipe(self) -> Recipe:
        """The recipe itself."""
        return self.material.recipes[0]


def csv_of(versions: Sequence[RecipeVersion]) -> str:
    """Write recipes as CSV, every key with its value, whatever is as usual included."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS)
    table.writeheader()
    for one in versions:
        values: dict[str, Any] = one.recipe.model_dump(mode="json")
        values |= {"material": one.key.material, "thickness_mm": one.key.thickness_mm}
        table.writerow({key: _cell(value) for key, value in values.items()})
    return text.getvalue()


def recipes_of_csv(text: str, file: str) -> list[RecipeRow]:
    """Read recipes; columns that are left out and empty cells have their usual value.

    Commas, semicolons and tabs between columns are all read, as spreadsheets write them.

    Raises:
        KerfwrightError: ``recipes/wrong-table``, with every row that is wrong.
    """
    text = text.removeprefix("\ufeff")
    head = text.partition("\n")[0]
    separator = max(",;\t", key=head.count)
    rows = csv.DictReader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        columns = [name.strip().lower() for name in rows.fieldnames or ()]
        _require_columns(columns, file)
        rows.fieldnames = columns
        read = [
            (rows.line_num, dict(row))
            for row in rows
            if any(isinstance(value, str) and value.strip() for value in row.values())
        ]
    except csv.Error as error:
        raise _wrong(file, f"line {rows.line_num} is no CSV ({error}).") from None
    found: list[RecipeRow] = []
    wrong: list[str] = []
    for line, row in read:
        try:
            found.append(RecipeRow(line, _material(row, f"line {line}")))
        except KerfwrightError as error:
            wrong.append(f"Line {line}: {_in_a_row(error)}")
    wrong += _twice(found)
    if wrong:
        raise _all_wrong(file, wrong)
    return found


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else json.dumps(value)


def _require_columns(columns: Sequence[str], file: str) -> None:
    missing = [name for name in NEEDED if name not in columns]
    unknown = [name for name in columns if name not in COLUMNS]
    if missing:
        raise _wrong(file, f"the column {listed(missing[:1])} is missing.")
    if unknown:
        like = nearest(unknown[0], COLUMNS)
        hint = f' Did you mean "{like}"?' if like else ""
        raise _wrong(file, f'the column "{unknown[0]}" is not known.{hint}')
    if len(set(columns)) < len(columns):
        raise _wrong(file, "a column is there twice.")


def _material(row: Mapping[str | None, Any], where: str) -> Material:
    """The row as a material file with one recipe, checked as such a file is."""
    if None in row or None in row.values():
        raise _wrong(where, "it has more or fewer cells than there are columns.")
    cells = {str(key): value.strip() for key, value in row.items()}
    if not cells["material"]:
        raise _wrong(where, "the material has no name.")
    recipe = {
        key: _value(key, text, where)
        for key, text in cells.items()
        if text and key in Recipe.model_fields
    }
    # what is as usual means nothing, and may not even stand in a recipe of another process
    usual = {name: field.get_default() for name, field in Recipe.model_fields.items()}
    recipe = {key: value for key, value in recipe.items() if _is_said(value, usual[key])}
    table: dict[str, Any] = {"name": cells["material"], "recipes": [recipe]}
    if cells["thickness_mm"]:
        table["thickness_mm"] = _number("thickness_mm", cells["thickness_mm"], where)
    return material_of_table(table, where)


def _is_said(value: object, usual: object) -> bool:
    return value != usual or isinstance(value, bool) != isinstance(usual, bool)


def _value(key: str, text: str, where: str) -> Any:
    """A cell as the key's value; what is of no such type is left for the checks to tell."""
    kinds = _kinds(Recipe.model_fields[key].annotation)
    if bool in kinds and text.lower() in {"true", "false"}:
        return text.lower() == "true"
    if datetime.date in kinds:
        return _day(key, text, where)
    if tuple in kinds:
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            raise _wrong(
                where, f'{key} is "{text}", not pairs such as [[0.1, 0.0], [0.4, 1.0]].'
            ) from None
    if float in kinds or int in kinds:
        return _number(key, text, where, whole=float not in kinds)
    return text


def _number(key: str, text: str, where: str, *, whole: bool = False) -> float:
    try:
        return int(text) if whole else float(text.replace(",", "."))
    except ValueError:
        a_number = "whole number" if whole else "number"
        raise _wrong(where, f'{key} is "{text}", and that is no {a_number}.') from None


def _day(key: str, text: str, where: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise _wrong(where, f'{key} is "{text}", and that is no day such as 2026-05-04.') from None


def _kinds(annotation: Any) -> set[Any]:
    """The plain types that an annotation allows."""
    origin = get_origin(annotation)
    if origin in {Union, types.UnionType}:
        return {kind for one in get_args(annotation) for kind in _kinds(one)}
    if hasattr(annotation, "__metadata__"):
        return _kinds(get_args(annotation)[0])
    return {origin or annotation}


def _twice(rows: Sequence[RecipeRow]) -> list[str]:
    seen: dict[tuple[str, str, float, str], int] = {}
    told = []
    for row in rows:
        material, recipe = row.material, row.recipe
        key = (recipe.machine, material.name, material.thickness_mm, recipe.process)
        first = seen.setdefault(key, row.line)
        if first != row.line:
            told.append(
                f'Line {row.line}: it is a second {recipe.process} recipe for "{material.name}" on '
                f'"{recipe.machine}", after line {first}. Keep the one that is right.'
            )
    return told


def _in_a_row(error: KerfwrightError) -> str:
    """What is wrong with a row, without the place in the file that it was checked as."""
    said = error.thing if error.remedy == NOTHING_TAKEN else f"{error.thing} {error.remedy}"
    said = said.replace("recipes[1].", "").replace("\nPut these right, then run it again.", "")
    return re.sub(r"Add a line: \w+ = …", "Fill in the cell.", said)


def _all_wrong(file: str, wrong: Sequence[str]) -> KerfwrightError:
    if len(wrong) == 1:
        return _wrong(file, wrong[0])
    more = f"\n  and {len(wrong) - MOST_TOLD} more" if len(wrong) > MOST_TOLD else ""
    lines = "".join(f"\n  {one}" for one in wrong[:MOST_TOLD])
    return _wrong(file, f"{len(wrong)} rows are wrong.{lines}{more}\n")


def _wrong(file: str, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "recipes/wrong-table",
        file=file,
        thing=thing,
        remedy=NOTHING_TAKEN,
    )
