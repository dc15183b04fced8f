"""The example workshop, served to a test."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from kerfwright.web.app import make_app
from kerfwright.web.example import begin_with_example
from kerfwright.web.workshop import Workshop

PLYWOOD = "birch plywood 3 mm"

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path fill="none" stroke="#000" d="M10 5H50V35H10z"/></svg>'
)


def client(folder: Path) -> TestClient:
    """The example workshop in ``folder``, its records beside it."""
    workshop = Workshop(folder, str(folder / "records.sqlite"))
    if not any(folder.iterdir()):
        begin_with_example(workshop)
    return TestClient(make_app(workshop))


def sent(*drawings: tuple[str, str | bytes]) -> list[tuple[str, tuple[str, str | bytes]]]:
    return [("files", drawing) for drawing in drawings]


def begun(shop: TestClient, *drawings: tuple[str, str | bytes], **fields: str) -> str:
    """Begin an order and return its slug."""
    data = {"title": "Quay names", "material": PLYWOOD, **fields}
    answer = shop.post("/api/orders", files=sent(*drawings), data=data)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["slug"])


def drawn(shop: TestClient, slug: str, number: int = 0) -> dict[str, Any]:
    answer = shop.get(f"/api/orders/{slug}/items/{number}/drawing")
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found
