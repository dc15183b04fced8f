"""JSON Schemas of ``plan.json`` and ``quote.json``.

``python -m kerfwright.output.schema FOLDER`` writes them; ``docs/schema`` holds them as published.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from pydantic import BaseModel

from kerfwright.output.plan_json import PlanDocument
from kerfwright.output.quote_document import QuotesDocument
from kerfwright.shop.schema import SCHEMA_DIALECT

DOCUMENTS: dict[str, type[BaseModel]] = {"plan": PlanDocument, "quote": QuotesDocument}


def schema_text(name: str) -> str:
    """Text of the schema of the document ``name``."""
    schema = DOCUMENTS[name].model_json_schema(mode="serialization")
    schema = {"$schema": SCHEMA_DIALECT, "title": f"Kerfwright {name}"} | {
        key: value for key, value in schema.items() if key != "title"
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def write_schemas(folder: Path) -> list[Path]:
    """Write all schemas into ``folder`` and return where."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name in DOCUMENTS:
        path = folder / f"{name}.schema.json"
        path.write_text(schema_text(name), encoding="utf-8")
        written.append(path)
    return written


if __name__ == "__main__":
    for file in write_schemas(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/schema")):
        print(file)
