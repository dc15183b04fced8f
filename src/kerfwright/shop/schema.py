"""JSON Schemas of the shop's files, for editors that complete and check TOML.

``python -m kerfwright.shop.schema FOLDER`` writes them; ``docs/schema`` holds them as published.
"""

from __future__ import annotations

import json
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from kerfwright.shop.fixture import Fixture
from kerfwright.shop.machine import Machine, StrictModel
from kerfwright.shop.material import Material
from kerfwright.shop.order import Order
from kerfwright.shop.rates import Rates

SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"

MODELS: dict[str, type[StrictModel]] = {
    "fixture": Fixture,
    "machine": Machine,
    "material": Material,
    "order": Order,
    "rates": Rates,
}


class _TomlSchema(GenerateJsonSchema):
    """Decimals are numbers in a TOML file, their defaults too."""

    def decimal_schema(self, schema: core_schema.DecimalSchema) -> JsonSchemaValue:
        limits = {"ge": "minimum", "gt": "exclusiveMinimum", "le": "maximum"}
        given: dict[str, Any] = {name: schema.get(key) for key, name in limits.items()}
        return {"type": "number"} | {
            name: float(limit) for name, limit in given.items() if limit is not None
        }

    def encode_default(self, dft: Any) -> Any:
        return float(dft) if isinstance(dft, Decimal) else super().encode_default(dft)


def schema_text(page: str) -> str:
    """Text of the schema for one kind of the shop's files, see :data:`MODELS`."""
    schema = MODELS[page].model_json_schema(schema_generator=_TomlSchema)
    schema = {"$schema": SCHEMA_DIALECT, "title": f"Kerfwright {page} file"} | {
        key: value for key, value in schema.items() if key != "title"
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def write_schemas(folder: Path) -> list[Path]:
    """Write all schemas into ``folder`` and return where."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for page in MODELS:
        path = folder / f"{page}.schema.json"
        path.write_text(schema_text(page), encoding="utf-8")
        written.append(path)
    return written


if __name__ == "__main__":
    for file in write_schemas(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/schema")):
        print(file)
