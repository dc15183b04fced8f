"""What is wrong with a TOML file, in plain words: from validation errors to one message."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from kerfwright.errors import KerfwrightError

Location = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: ``slug`` of its help heading, the key, what is wrong, the remedy."""

    slug: str
    at: Location
    wrong: str
    remedy: str


def raise_faults(page: str, file: str, faults: Sequence[Fault], table: dict[str, Any]) -> None:
    """Raise one :class:`KerfwrightError` with all faults in the order of the file, if any."""
    if not faults:
        return
    faults = sorted(faults, key=lambda fault: _place(fault.at, table))
    told = [f"{_named(fault.at, table)} {fault.wrong}" for fault in faults]
    if len(faults) == 1:
        thing, remedy = told[0], faults[0].remedy
    else:
        lines = [
            f"\n  {number}. {what} {fault.remedy}"
            for number, (what, fault) in enumerate(zip(told, faults, strict=True), 1)
        ]
        thing = f"{len(faults)} things are wrong." + "".join(lines)
        remedy = "\nPut these right, then run it again."
    raise KerfwrightError(f"{page}/{faults[0].slug}", file=file, thing=thing, remedy=remedy)


def dotted(at: Location) -> str:
    """Key as the user would write it: ``items[2].quantity``, blocks counted from 1."""
    text = ""
    for step in at:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text or "the file"


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """The choice most like ``word``, if any is like it; upper and lower case count alike."""
    by_folded = {choice.lower().replace("-", "_"): choice for choice in choices}
    folded = word.lower().replace("-", "_")
    found = difflib.get_close_matches(folded, by_folded, n=1, cutoff=0.6)
    if not found:
        found = [f for f in by_folded if len(folded) >= 3 and f.startswith(folded + "_")][:1]
    return by_folded[found[0]] if found else None


def listed(words: Iterable[str]) -> str:
    """Words as a phrase: ``"a", "b" or "c"``."""
    quoted = [f'"{word}"' for word in words]
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def faults_of(error: ValidationError, model: type[BaseModel], table: dict[str, Any]) -> list[Fault]:
    """Translate a validation error."""
    return [
        _fault(details, model, table)
        for details in error.errors(include_url=False)
        if not _only_follows(details)
    ]


def _only_follows(details: ErrorDetails) -> bool:
    """Whether a list counts as too short merely because what it holds is wrong."""
    return details["type"] == "too_short" and bool(details["input"])


def _fault(details: ErrorDetails, model: type[BaseModel], table: dict[str, Any]) -> Fault:
    at = _existing(details["loc"], table)
    if details["type"] == "extra_forbidden":
        return _unknown_key(at, model)
    if details["type"] == "missing":
        return _missing(details["loc"], model)
    fault = _wrong_value(at, _value(at, table), details)
    return replace(fault, remedy=fault.remedy + _meaning(at, model))


def _meaning(at: Location, model: type[BaseModel]) -> str:
    """What the key stands for, from the model's own words."""
    keys = [step for step in at if isinstance(step, str)]
    field = _model_at(model, tuple(keys[:-1])).model_fields.get(keys[-1]) if keys else None
    return f" ({keys[-1]}: {field.description})" if field and field.description else ""


def _wrong_value(at: Location, value: Any, details: ErrorDetails) -> Fault:
    kind, context = details["type"], details.get("ctx", {})
    if kind in ("literal_error", "enum"):
        return _wrong_choice(at, value, str(context.get("expected", "")))
    if kind in _LIMITS:
        return Fault(
            "out-of-range", at, f"is {_shown(value)}.", f"Give {_LIMITS[kind].format(**context)}."
        )
    if kind in _EMPTY:
        return Fault("out-of-range", at, "is empty.", _EMPTY[kind])
    wanted = _WANTED.get(kind, f"otherwise ({details['msg']})").format(**context)
    if kind == "too_long":
        wanted = f"a list of {context.get('max_length')} values, not {len(value)}"
    elif isinstance(value, dict) and kind == "tuple_type":
        wanted = f"given in double square brackets: [[{dotted(at)}]]"
    return Fault("wrong-type", at, f"is {_shown(value)}.", f"It must be {wanted}.")


_LIMITS = {
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "{ge:g} or more",
    "less_than": "less than {lt:g}",
    "less_than_equal": "{le:g} or less",
    "finite_number": "an ordinary number, not nan or inf",
}

_WANTED = {
    "float_type": "a number without quotes, such as 2.5",
    "int_type": "a whole number without quotes, such as 3",
    "bool_type": "true or false, without quotes",
    "string_type": "a text in quotes",
    "tuple_type": "a list in square brackets",
    "decimal_type": "a number without quotes, such as 2.50",
    "currency": 'a currency\'s ISO 4217 code, such as "EUR"',
    "locale": 'a language, with a country where it matters, such as "en" or "de_DE"',
    "model_type": "a table of its own: a heading in square brackets with keys below it",
    "money": "an amount of money, such as 12.50",
    "decimal_parsing": "an amount of money, such as 12.50",
    "decimal_max_digits": "an amount of no more than {max_digits} digits",
    "decimal_whole_digits": "an amount of no more than {whole_digits} digits before the point",
    "decimal_max_places": "an amount of no more than {decimal_places} digits behind the point",
    "date_type": "a day without quotes, such as 2031-05-20",
    "hours": 'hours of a day in their order, such as ["08:00-12:00", "13:00-17:00"]',
    "colour": 'true (painted), false (not painted) or a colour such as "#c00000" or "red"',
}

_EMPTY = {
    "too_short": "Give at least one.",
    "string_too_short": "Write something between the quotes.",
}


def _unknown_key(at: Location, model: type[BaseModel]) -> Fault:
    key = str(at[-1])
    valid = list(_model_at(model, at[:-1]).model_fields)
    home = _home(key, model)
    like = None if home else nearest(key, valid)
    hint = f'Did you mean "{like}"? ' if like else f"It belongs in {home}. " if home else ""
    return Fault(
        "unknown-key", at, "is not a key that is known here.", f"{hint}Known: {', '.join(valid)}."
    )


def _home(key: str, model: type[BaseModel], inside: str = "") -> str | None:
    """Heading of the table in which ``key`` would be right."""
    for name, field in model.model_fields.items():
        inner = _model_in(field.annotation)
        if inner is None:
            continue
        path = f"{inside}.{name}" if inside else name
        if key in inner.model_fields:
            return f"[[{path}]]" if _is_list(field.annotation) else f"[{path}]"
        if home := _home(key, inner, path):
            return home
    return None


def _is_list(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) is tuple or any(
        _is_list(argument) for argument in get_args(annotation)
    )


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in get_args(annotation):
        if found := _model_in(argument):
            return found
    return None


def _model_at(model: type[BaseModel], at: Location) -> type[BaseModel]:
    for step in at:
        if isinstance(step, str) and step in model.model_fields:
            model = _model_in(model.model_fields[step].annotation) or model
    return model


def _missing(at: Location, model: type[BaseModel]) -> Fault:
    key = at[-1]
    if isinstance(key, int):
        return Fault("wrong-type", at[:-1], "is too short.", "Give two numbers as [x, y].")
    annotation = _model_at(model, at[:-1]).model_fields[key].annotation
    heading = dotted(tuple(step for step in at if isinstance(step, str)))
    remedy = f"Add a line: {key} = …"
    if _model_in(annotation) is not None:
        heading = f"[[{heading}]]" if _is_list(annotation) else f"[{heading}]"
        remedy = f"Add a {heading} block."
    return Fault("key-missing", at, "is missing.", remedy)


def _wrong_choice(at: Location, value: Any, expected: str) -> Fault:
    choices = [part.strip().strip("'") for part in expected.replace(" or ", ", ").split(", ")]
    like = nearest(value, choices) if isinstance(value, str) else None
    hint = f'Did you mean "{like}"? ' if like else ""
    return Fault("wrong-choice", at, f"is {_shown(value)}.", f"{hint}It must be {listed(choices)}.")


def _existing(at: Location, table: Any) -> Location:
    """The part of a validation error's location that is in the file."""
    for depth, step in enumerate(at):
        try:
            table = table[step]
        except (KeyError, IndexError, TypeError):
            return at[:depth]
    return at


def _value(at: Location, table: Any) -> Any:
    for step in at:
        table = table[step]
    return table


def _place(at: Location, table: Any) -> tuple[int, ...]:
    """Sorts keys as they follow one another in the file; a missing key comes last in its table."""
    place = []
    for step in at:
        if isinstance(table, dict):
            keys = list(table)
            place.append(keys.index(step) if step in table else len(keys))
            table = table.get(step)
        elif isinstance(table, list) and isinstance(step, int):
            place.append(step)
            table = table[step] if step < len(table) else None
    return tuple(place)


def _named(at: Location, table: Any) -> str:
    """Key with the name of the block that it is in, where the block has one."""
    name: object = None
    for step in at[:-1]:
        table = table[step]
        if isinstance(step, int) and isinstance(table, dict):
            names = (table.get(key) for key in ("name", "drawing", "process") if key != at[-1])
            name = next((given for given in names if given), None)
    return f"{dotted(at)} ({name})" if isinstance(name, str) and name else dotted(at)


def _shown(value: Any) -> str:
    """Value as the file has it, with a word for what kind it is where that helps."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'the text "{value}"' if len(value) <= 60 else f'the text "{value[:57]}…"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, datetime.date | datetime.time):
        return f"the date or time {value}"
    return f"{value:g}" if isinstance(value, float) else str(value)[:60]
