"""Recipes on record: what they were, brought back, begun from neighbours, taken out and in."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field, JsonValue

from kerfwright.errors import KerfwrightError
from kerfwright.output.recipe_list import new_in_words, version_in_words
from kerfwright.recipe_book import (
    Suggested,
    bring_back,
    everything_json,
    recipes_csv,
    recipes_on_record,
    suggest,
    take_in_csv,
    take_in_json,
    write_suggestion,
)
from kerfwright.shop.database import Database
from kerfwright.shop.recipe_history import RecipeHistory
from kerfwright.shop.recipe_versions import RecipeKey
from kerfwright.shop.stock_records import whoever
from kerfwright.web import kept
from kerfwright.web.api.orders import Here
from kerfwright.web.changing import changed_elsewhere, changing
from kerfwright.web.recipe_pages import (
    History,
    OnRecord,
    Start,
    files_by_material,
    history_of,
    on_record,
    start_of,
)
from kerfwright.web.workshop import Workshop

router = APIRouter(tags=["recipes"])

LONGEST = 20_000_000
"""Signs of a file that is taken in."""

REMEDIES = {
    "recipes/no-kind": "Write kind = … into this file and those of its other thicknesses, such as "
    'kind = "birch plywood".',
    "recipes/no-neighbour": "Give the other thicknesses' material files the same kind. If none of "
    "them is tested, begin a power piece from what the machine's manual and the material's "
    "supplier allow.",
    "recipes/tested-on-record": "Look at its versions on this page and bring the tested one back.",
}
"""What to do on the pages, where the command asks for an option of its own."""

Name = Annotated[str, Query(max_length=200)]


class Document(BaseModel):
    """A table (CSV) or a shop's records (JSON) as text."""

    model_config = ConfigDict(extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=200)]
    """Name of the file; its ending tells which it is."""
    text: Annotated[str, Field(max_length=LONGEST)]


class Wanted(BaseModel):
    """A suggestion that is to be written, as it was shown."""

    model_config = ConfigDict(extra="forbid")

    machine: Annotated[str, Field(max_length=200)]
    material: Annotated[str, Field(max_length=200)]
    """Machine and material are files as the workshop lists them."""
    process: Annotated[str, Field(max_length=200)]
    settings: dict[str, JsonValue]
    """What was shown, so that nothing else is written."""


class Told(BaseModel):
    """What was done, in words."""

    words: str


@router.get("/recipes")
def list_recipes(workshop: Here) -> list[OnRecord]:
    """Every recipe on record, by machine, material and process."""
    with kept.database(workshop) as database:
        return on_record(workshop, recipes_on_record(database))


@router.get("/recipes/history")
def recipe_history(
    workshop: Here,
    machine: Name,
    material: Name,
    thickness_mm: Annotated[float, Query(gt=0.0, le=1e4)],
    process: Name,
) -> History:
    """Every version of one recipe: when, by whom, from where, and what it changed."""
    key = RecipeKey(machine, material, thickness_mm, process)
    with kept.database(workshop) as database:
        found = next((one for one in recipes_on_record(database) if one.key == key), None)
    if found is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=material,
            thing=f'no {process} recipe for "{machine}" is on record yet.',
            remedy="It is noted when an order is planned with the material's file.",
        )
    return history_of(workshop, found)


@router.get("/recipes/suggestion")
def suggestion(workshop: Here, machine: Name, material: Name, process: Name = "cut") -> Start:
    """Where a trial piece may begin, from tested recipes at neighbouring thicknesses.

    Machine and material are files as the workshop lists them; nothing is written.
    """
    with kept.database(workshop) as database:
        return start_of(workshop, _suggested(workshop, database, machine, material, process))


@router.post("/recipes/suggestion", status_code=201)
def write_start(workshop: Here, wanted: Wanted) -> Told:
    """Write a suggestion into its material file as an untested recipe, comments kept.

    It is refused where it would no longer be what was shown.
    """
    file = workshop.listed_material(wanted.material)
    with changing(file.parent), kept.database(workshop) as database:
        found = _suggested(workshop, database, wanted.machine, wanted.material, wanted.process)
        if start_of(workshop, found).settings != wanted.settings:
            raise changed_elsewhere(wanted.material)
        noted = write_suggestion(database, found, file, by=whoever(), overwrite=True)
    return Told(words=f"Written into {wanted.material} as untested. {new_in_words(noted)}")


def _suggested(
    workshop: Workshop, database: Database, machine: str, material: str, process: str
) -> Suggested:
    machine_file, file = workshop.listed_machine(machine), workshop.listed_material(material)
    also = [other for _, other in files_by_material(workshop).values() if other != file]
    try:
        return suggest(database, machine_file, file, process, also)
    except KerfwrightError as error:
        remedy = REMEDIES.get(error.code, error.remedy)
        raise KerfwrightError(
            error.code, file=error.file, thing=error.thing, remedy=remedy
        ) from None


@router.post("/recipes/versions/{number}/restoration", status_code=201)
def restore(workshop: Here, number: Annotated[int, Path(ge=1, lt=2**31)]) -> Told:
    """Write an earlier version back into its material file, comments kept."""
    with kept.database(workshop) as database:
        key = RecipeHistory(database).recipe(number).key
        found = files_by_material(workshop).get((key.material, key.thickness_mm))
        if found is None:
            raise KerfwrightError(
                "recipes/no-file",
                file=str(workshop.folder / "materials"),
                thing=f'no file is for "{key.material}", {key.thickness_mm:g} mm.',
                remedy="Write a material file with that name and thickness first.",
            )
        version = bring_back(database, number, found[1], by=whoever())
    file = workshop.shown(str(found[1]))
    return Told(words=f"{version_in_words(version)}. Written into {file}.")


@router.get("/recipes/export/{name}", response_class=Response)
def export(workshop: Here, name: Literal["recipes.csv", "shop.json"]) -> Response:
    """The recipes as a table, or machines, materials and recipes with all their versions."""
    with kept.database(workshop) as database:
        as_table = name == "recipes.csv"
        text = recipes_csv(database) if as_table else everything_json(database)
    return Response(
        text,
        media_type="text/csv" if as_table else "application/json",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.post("/recipes/import", status_code=201)
def take_in(workshop: Here, document: Document) -> Told:
    """Note the recipes of a table or of a shop's records, all or none; no file is changed."""
    ending = document.name.lower().rpartition(".")[2]
    with kept.database(workshop) as database:
        if ending == "csv":
            noted = take_in_csv(database, document.text, document.name, by=whoever())
            return Told(words=new_in_words(noted))
        if ending == "json":
            new = take_in_json(database, document.text, document.name)
            return Told(
                words=f"New on record: {new.recipes} versions of recipes, {new.materials} of "
                f"materials, {new.machines} of machines."
            )
    raise KerfwrightError(
        "recipes/unclear",
        file=document.name,
        thing="its name ends neither in .csv nor in .json.",
        remedy="Choose a table or a document as it is saved here.",
    )
