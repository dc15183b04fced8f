"""plan.json: complete, finite, always the same, and as its published schema says."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from pydantic import ValidationError

import planned_order
import planned_square
from kerfwright.motion.timing import Times
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.output.schema import DOCUMENTS, schema_text, write_schemas

PUBLISHED = Path(__file__).parents[2] / "docs" / "schema"


def document(words: str = "") -> dict[str, Any]:
    plan = planned_order.order(words)

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    text = plan_json(plan_document(plan, planned_order.files_of(plan)))
    return json.loads(text, parse_constant=refuse)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_published_schema_is_up_to_date(name: str) -> None:
    published = (PUBLISHED / f"{name}.schema.json").read_text(encoding="utf-8")
    assert published == schema_text(name), "run python -m kerfwright.output.schema"


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_key_of_the_schema_is_described(name: str) -> None:
    schema = json.loads(schema_text(name))
    for table in (schema, *schema["$defs"].values()):
        for key, value in table["properties"].items():
            assert value.get("description"), f"{table.get('title')}.{key}"


def test_schemas_are_written_to_any_folder(tmp_path: Path) -> None:
    written = write_schemas(tmp_path / "schema")
    assert [path.read_text(encoding="utf-8") for path in written] == [
        schema_text(name) for name in DOCUMENTS
    ]


@pytest.mark.parametrize("words", ["", planned_order.HOSTILE])
def test_document_follows_the_schema(words: str) -> None:
    schema = json.loads(schema_text("plan"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document(words), schema, jsonschema.Draft202012Validator)


def test_totals_are_the_sums_of_the_sheets() -> None:
    plan = document()
    for key in ("time_s", "burn_s", "travel_s", "wait_s"):
        assert plan["totals"][key] == pytest.approx(sum(sheet[key] for sheet in plan["sheets"]))
    assert plan["totals"]["time_s"] == pytest.approx(71.0 + 3720.0)
    assert plan["totals"]["parts"] == 5
    assert [sheet["parts_placed"] for sheet in plan["sheets"]] == [3, 2]


def test_parts_are_counted_through_the_whole_order() -> None:
    parts = [part for sheet in document()["sheets"] for part in sheet["parts"]]
    assert [(p["name"], p["instance"]) for p in parts] == [
        ("tile", 1),
        ("ring", 1),
        ("blank", 1),
        ("tile", 2),
        ("tile", 3),
    ]
    assert (parts[3]["x_mm"], parts[3]["y_mm"]) == (15.0, 15.0)
    assert (parts[3]["width_mm"], parts[3]["height_mm"]) == (30.0, 30.0)


def test_decisions_name_every_way_and_how_to_overrule() -> None:
    engraving, placement = document()["decisions"]
    assert engraving["saved_s"] == pytest.approx(1881.25 - 477.0)
    assert [way["time_s"] for way in engraving["alternatives"]] == [1881.25, 477.0]
    assert engraving["override"] == 'engrave = "scan"'
    assert engraving["page"] == "order"
    assert placement["alternatives"][0]["time_s"] is None, "infinite: nobody can wait for that"


def test_findings_keep_places_that_are_numbers() -> None:
    note, warning = document()["findings"]
    assert (note["severity"], note["count"], note["x_mm"]) == ("note", 3, None)
    assert (warning["x_mm"], warning["y_mm"]) == (1.235, None)


def test_same_plan_gives_the_same_text() -> None:
    plan = planned_order.order(planned_order.HOSTILE)
    files = planned_order.files_of(plan)
    assert plan_json(plan_document(plan, files)) == plan_json(plan_document(plan, files))


def test_sheet_time_that_is_no_number_is_refused() -> None:
    bad = planned_square.sheet(times=Times(math.nan, 0.0, 0.0))
    plan = planned_order.order()
    plan = type(plan)(plan.title, plan.machine, (bad,), (), (), False)
    with pytest.raises(ValidationError):
        plan_document(plan, planned_order.files_of(plan))


def test_files_must_be_as_many_as_sheets() -> None:
    with pytest.raises(ValueError, match="zip"):
        plan_document(planned_order.order(), [])
