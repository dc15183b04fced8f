"""The schemas under docs/schema are those of the code."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.shop.schema import MODELS, schema_text, write_schemas

PUBLISHED = Path(__file__).parents[2] / "docs" / "schema"


@pytest.mark.parametrize("page", MODELS)
def test_published_schema_is_up_to_date(page: str) -> None:
    published = (PUBLISHED / f"{page}.schema.json").read_text(encoding="utf-8")
    assert published == schema_text(page), "run python -m kerfwright.shop.schema"


@pytest.mark.parametrize("page", MODELS)
def test_every_key_is_described(page: str) -> None:
    schema = MODELS[page].model_json_schema()
    for table in (schema, *schema.get("$defs", {}).values()):
        for key, value in table.get("properties", {}).items():
            assert value.get("description"), f"{table['title']}.{key}"


def test_schemas_are_written_to_any_folder(tmp_path: Path) -> None:
    written = write_schemas(tmp_path / "schema")
    assert [path.name for path in written] == [f"{page}.schema.json" for page in MODELS]
    assert all(path.read_text(encoding="utf-8").endswith("}\n") for path in written)
