"""Everything on record as one file."""

from __future__ import annotations

import datetime

from fastapi import APIRouter, Response
from pydantic import BaseModel

from kerfwright.shop.backup import backup_text
from kerfwright.web import kept
from kerfwright.web.api.orders import Here

router = APIRouter(tags=["records"])


class Place(BaseModel):
    """Where the records lie."""

    place: str


@router.get("/records")
def records(workshop: Here) -> Place:
    """Where runs, stock, orders and recipes are on record."""
    with kept.database(workshop) as database:
        return Place(place=database.place)


@router.get("/records/backup.json", response_class=Response)
def backup(workshop: Here) -> Response:
    """All of it as JSON, as `kerfwright backup` writes it."""
    with kept.database(workshop) as database:
        text = backup_text(database)
    name = f"records-{datetime.date.today().isoformat()}.json"
    return Response(
        text,
        media_type="application/json",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )
