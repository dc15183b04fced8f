"""Beam order: sheets played move by move, and the same planned otherwise beside them."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Body, Depends, Request, Response
from fastapi import Path as InAddress
from fastapi.responses import FileResponse
from pydantic import Field

from kerfwright.errors import KerfwrightError
from kerfwright.web.api.held import ending, held
from kerfwright.web.api.orders import Here, ThisOrder
from kerfwright.web.order_file import Change
from kerfwright.web.playback_kept import SheetTime, moves_file, playback_file, sheet_times
from kerfwright.web.playback_model import Playback
from kerfwright.web.playback_triable import require_triable
from kerfwright.web.playback_trial import Trials, TrialState

MOST_CHANGES = 50

SheetNumber = Annotated[int, InAddress(ge=1, le=100_000)]


router = APIRouter(tags=["beam order"], lifespan=ending("trials"))


def trials_of(request: Request, workshop: Here) -> Trials:
    """Return what has orders planned otherwise."""
    return held(request, "trials", lambda: Trials(workshop.records))


TheTrials = Annotated[Trials, Depends(trials_of)]
Changes = Annotated[list[Change], Field(min_length=1, max_length=MOST_CHANGES)]


@router.get("/orders/{slug}/playback")
def played_sheets(order: ThisOrder) -> tuple[SheetTime, ...]:
    """The sheets of the plan that can be played; none where it was not planned from the pages."""
    return sheet_times(order.plan_folder)


@router.get("/orders/{slug}/sheets/{number}/playback", response_model=Playback)
def playback(order: ThisOrder, number: SheetNumber) -> Response:
    """What lies on a sheet, and where its burns come from."""
    return _about(order.plan_folder, number, order.slug)


@router.get("/orders/{slug}/sheets/{number}/moves", response_class=Response)
def moves(order: ThisOrder, number: SheetNumber, request: Request) -> Response:
    """The moves of a sheet as bytes; `web/playback_file.py` describes them."""
    return _moves(order.plan_folder, number, order.slug, request)


@router.post("/orders/{slug}/what-if", status_code=202)
def try_otherwise(
    order: ThisOrder, trials: TheTrials, changes: Annotated[Changes, Body(embed=True)]
) -> TrialState:
    """Plan the order as if its file were changed; the order stays as it is."""
    require_triable(changes, order.file)
    trials.start(order, changes)
    return trials.state(order.slug)


@router.get("/orders/{slug}/what-if")
def trial_state(order: ThisOrder, trials: TheTrials) -> TrialState:
    """How far the order's trial is."""
    return trials.state(order.slug)


@router.delete("/orders/{slug}/what-if", status_code=204)
def stop_trial(order: ThisOrder, trials: TheTrials) -> None:
    """Stop the order's trial, or forget it."""
    trials.stop(order.slug)


@router.get("/orders/{slug}/what-if/sheets/{number}/playback", response_model=Playback)
def trial_playback(order: ThisOrder, trials: TheTrials, number: SheetNumber) -> Response:
    """What lies on a sheet of the trial."""
    return _about(_trial_folder(trials, order.slug), number, order.slug)


@router.get("/orders/{slug}/what-if/sheets/{number}/moves", response_class=Response)
def trial_moves(
    order: ThisOrder, trials: TheTrials, number: SheetNumber, request: Request
) -> Response:
    """The moves of a sheet of the trial as bytes."""
    return _moves(_trial_folder(trials, order.slug), number, order.slug, request)


def _trial_folder(trials: Trials, slug: str) -> Path:
    folder = trials.folder(slug)
    if folder is None:
        raise _nothing_there(slug, "no other way of working is ready.")
    return folder


def _about(folder: Path, number: int, slug: str) -> Response:
    file = playback_file(folder, number)
    if not file.is_file():
        raise _no_playback(slug, number)
    return FileResponse(file, media_type="application/json")


def _moves(folder: Path, number: int, slug: str, request: Request) -> Response:
    """The file as it is, packed; a page that has it already is only told so."""
    file = moves_file(folder, number)
    try:
        known = file.stat()
        tag = f'"{known.st_mtime_ns:x}-{known.st_size:x}"'
        headers = {"etag": tag, "vary": "accept-encoding", "cache-control": "no-cache"}
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers=headers)
        data = file.read_bytes()
    except OSError:
        raise _no_playback(slug, number) from None
    if "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
    else:
        data = gzip.decompress(data)
    return Response(data, media_type="application/octet-stream", headers=headers)


def _no_playback(slug: str, number: int) -> KerfwrightError:
    return _nothing_there(slug, f"sheet {number} cannot be played.")


def _nothing_there(slug: str, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "pages/nothing-there",
        file=slug,
        thing=thing,
        remedy="Plan the order on its page, then load the page again.",
    )
