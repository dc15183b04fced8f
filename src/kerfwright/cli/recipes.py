"""The commands for recipes on record. Everything heavy is imported by the command itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.cli.records import By, RecordsPlace
from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from kerfwright.recipe_book import RecipeOnRecord
    from kerfwright.shop.database import Database
    from kerfwright.shop.recipe_history import Chosen
    from kerfwright.shop.recipe_versions import RecipeKey

Command = Callable[..., Any]

OnMachine = Annotated[
    str | None, typer.Option("--machine", help="Only machines with these words in their name.")
]
OfMaterial = Annotated[
    str | None, typer.Option("--material", help="Only materials with these words in their name.")
]
OfProcess = Annotated[
    str | None, typer.Option("--process", help="Only for cut, score, engrave or photo.")
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def add_recipe_commands(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``recipes`` with its own commands."""
    recipes = typer.Typer(
        help="Recipes on record: what they are, what they were, where to begin a new one.",
        no_args_is_help=True,
    )
    recipes.command("list")(told_plainly(list_recipes))
    for command in (history, suggest, restore, export):
        recipes.command()(told_plainly(command))
    recipes.command("import")(told_plainly(take_in))
    app.add_typer(recipes, name="recipes")


def note_recipes(place: str | None, note: Callable[[Database, str], object]) -> None:
    """Note what recipes are now; what cannot be written is told, and stops nothing."""
    from kerfwright.shop.stock_records import whoever

    try:
        with _opened(place) as database:
            note(database, whoever())
    except KerfwrightError as error:
        typer.echo(
            f"The recipes were not noted in the records; all else is done. {error.file}: "
            f"{error.thing}\n  More: kerfwright help {error.code}",
            err=True,
        )


def list_recipes(
    machine: OnMachine = None,
    material: OfMaterial = None,
    process: OfProcess = None,
    json: Json = False,
    place: RecordsPlace = None,
) -> None:
    """List recipes as they were noted last."""
    from kerfwright.output.recipe_list import print_recipes, recipes_json
    from kerfwright.recipe_book import recipes_on_record

    with _opened(place) as database:
        found = recipes_on_record(database, _chosen(machine, material, process))
    if json:
        typer.echo(recipes_json({one.key: [one.latest] for one in found}, _invented(found)))
    else:
        print_recipes([one.latest for one in found], database.place, _invented(found))


def history(
    machine: OnMachine = None,
    material: OfMaterial = None,
    process: OfProcess = None,
    json: Json = False,
    place: RecordsPlace = None,
) -> None:
    """Print every version of recipes: when, by whom, from where, and what it changed."""
    from kerfwright.output.recipe_list import print_history, print_recipes, recipes_json
    from kerfwright.recipe_book import recipes_on_record

    with _opened(place) as database:
        found = recipes_on_record(database, _chosen(machine, material, process))
    if json:
        versions = {one.key: [each.version for each in one.history] for one in found}
        typer.echo(recipes_json(versions, _invented(found)))
        return
    if not found:
        print_recipes([], database.place)
    for one in found:
        print_history(one.key, [(each.version, each.changed) for each in one.history])


def restore(
    version: Annotated[int, typer.Argument(help="Its number in the history.", min=1)],
    into: Annotated[Path, typer.Option(help="The material file (TOML) to write it into.")],
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Write an earlier version of a recipe back into its material file, comments kept."""
    from kerfwright.output.recipe_list import version_in_words
    from kerfwright.recipe_book import bring_back
    from kerfwright.shop.stock_records import whoever

    with _opened(place) as database:
        brought = bring_back(database, version, into, by=by or whoever())
    typer.echo(f"{version_in_words(brought)}. Written into {into}.")


def suggest(
    machine: Annotated[Path, typer.Option(help="The machine file (TOML).")],
    material: Annotated[Path, typer.Option(help="The material file without the recipe (TOML).")],
    process: Annotated[str, typer.Option(help="cut, score, engrave or photo.")] = "cut",
    also: Annotated[
        list[Path] | None,
        typer.Option(help="Material file of another thickness, beside those on record."),
    ] = None,
    write: Annotated[
        Path | None, typer.Option("--write", help="New material file with it, as untested.")
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace the file of --write.")
    ] = False,
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Say where a trial piece may begin, from your own recipes at other thicknesses.

    Only tested recipes count, of the same machine, process and kind of material. What comes out is
    untested: burn a trial piece before an order depends on it.
    """
    from kerfwright.output.recipe_list import print_suggestion, trial_words
    from kerfwright.recipe_book import suggest as suggest_recipe
    from kerfwright.recipe_book import write_suggestion
    from kerfwright.shop.stock_records import whoever

    with _opened(place) as database:
        found = suggest_recipe(database, machine, material, process, also or ())
        print_suggestion(found.suggestion, found.findings)
        if write is not None:
            write_suggestion(database, found, write, by=by or whoever(), overwrite=overwrite)
    typer.echo(
        f"A piece to try it on: {trial_words(found.suggestion, str(machine), str(material))}"
    )
    typer.echo(
        "Untried settings catch fire sooner than others: stay with it, extraction on, a way to "
        "put out a fire at hand. The machine's manual and local rules come first."
    )
    if write is not None:
        typer.echo(f"Written, as untested: {write}")


def export(
    file: Annotated[
        Path,
        typer.Argument(
            help="FILE.csv for recipes as a table, FILE.json for machines, materials and recipes "
            "with all their versions; - prints the table."
        ),
    ],
    machine: OnMachine = None,
    material: OfMaterial = None,
    process: OfProcess = None,
    place: RecordsPlace = None,
) -> None:
    """Write recipes as a table, or everything with its history as JSON."""
    from kerfwright.recipe_book import everything_json, recipes_csv

    chosen = _chosen(machine, material, process)
    as_json = _is_json(file)
    if as_json and (machine, material, process) != (None, None, None):
        raise _unclear("a JSON file always holds everything.")
    with _opened(place) as database:
        text = everything_json(database) if as_json else recipes_csv(database, chosen)
    if str(file) == "-":
        typer.echo(text, nl=False)
        return
    from kerfwright.output.whole_file import whole_file

    with whole_file(file) as path:
        path.write_text(text, encoding="utf-8", newline="")
    typer.echo(f"Written: {file}")


def take_in(
    file: Annotated[Path, typer.Argument(help="A CSV or JSON file, as export writes it.")],
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Note the recipes of a table or of another shop's records, all or none.

    Files stay as they are: recipes restore writes a version into a material file.
    """
    from kerfwright.output.recipe_list import new_in_words
    from kerfwright.recipe_book import take_in_csv, take_in_json
    from kerfwright.shop.stock_records import whoever

    text = _text_of(file)
    with _opened(place) as database:
        if _is_json(file):
            new = take_in_json(database, text, str(file))
            typer.echo(
                f"New on record: {new.recipes} versions of recipes, {new.materials} of materials, "
                f"{new.machines} of machines."
            )
        else:
            noted = take_in_csv(database, text, str(file), by=by or whoever())
            typer.echo(new_in_words(noted))


def _invented(found: Sequence[RecipeOnRecord]) -> set[RecipeKey]:
    return {one.key for one in found if one.invented}


def _is_json(file: Path) -> bool:
    if file.suffix.lower() in {".csv", ".json"} or str(file) == "-":
        return file.suffix.lower() == ".json"
    raise _unclear(f'"{file.name}" ends neither in .csv nor in .json.')


def _text_of(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8")
    except (OSError, ValueError) as error:
        raise KerfwrightError(
            "recipes/cannot-read",
            file=str(file),
            thing=f"it cannot be read ({getattr(error, 'strerror', None) or 'no UTF-8'}).",
            remedy="Give a file in UTF-8, as kerfwright recipes export writes it.",
        ) from None


def _chosen(machine: str | None, material: str | None, process: str | None) -> Chosen:
    from kerfwright.recipe_book import require_process
    from kerfwright.shop.recipe_history import Chosen

    if process is not None:
        require_process(process)
    return Chosen(machine, material, process)


@contextmanager
def _opened(place: str | None) -> Iterator[Database]:
    from kerfwright.shop.database import Database, records_place

    database = Database(records_place(place))
    try:
        yield database
    finally:
        database.close()


def _unclear(what: str) -> KerfwrightError:
    return KerfwrightError(
        "recipes/unclear",
        file="kerfwright recipes",
        thing=what,
        remedy="Write, for example: kerfwright recipes export recipes.csv; kerfwright recipes "
        "import shop.json.",
    )
