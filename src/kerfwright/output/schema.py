"""JSON Schema of ``plan.json``.

``python -m kerfwright.output.schema FOLDER`` writes it; ``docs/schema`` holds it as published.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from kerfwright.output.plan_json import PlanDocument
from kerfwright.shop.schema import SCHEMA_DIALECT

FILE_NAME = "plan.schema.json"


def schema_text() -> str:
    """Text of the schema."""
    schema = PlanDocument.model_json_schema(mode="serialization")
    schema = {"$schema": SCHEMA_DIALECT, "title": "Kerfwright plan"} | {
        key: value for key, value in schema.items() if key != "title"
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def write_schema(folder: Path) -> Path:
    """Write the schema into ``folder`` and return where."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE_NAME
    path.write_text(schema_text(), encoding="utf-8")
    return path


if __name__ == "__main__":
    print(write_schema(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/schema")))
