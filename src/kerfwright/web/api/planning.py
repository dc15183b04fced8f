"""Planning: asked for, stopped, dropped, and what is told of it while it goes on."""

from __future__ import annotations

from collections.abc import AsyncIterable
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.sse import EventSourceResponse, ServerSentEvent

from kerfwright.web.api.orders import ThisOrder
from kerfwright.web.planning.plannings import Plannings
from kerfwright.web.planning.states import PlanningState

router = APIRouter(tags=["planning"])


def plannings_of(request: Request) -> Plannings:
    """Return the plannings of the server."""
    plannings: Plannings = request.app.state.plannings
    return plannings


Planning = Annotated[Plannings, Depends(plannings_of)]


@router.get("/planning")
def all_planning(plannings: Planning) -> list[PlanningState]:
    """Every order that was planned or waits for it since the server was started."""
    return plannings.states()


@router.get("/orders/{slug}/planning")
def show_planning(order: ThisOrder, plannings: Planning) -> PlanningState:
    """Where the planning of an order stands."""
    return plannings.state(order.slug)


@router.post("/orders/{slug}/planning", status_code=202)
def plan_order(order: ThisOrder, plannings: Planning) -> PlanningState:
    """Plan an order; others that wait come first."""
    return plannings.ask(order)


@router.delete("/orders/{slug}/planning")
def stop_planning(order: ThisOrder, plannings: Planning) -> PlanningState:
    """End the search for places and plan on with the best layout so far."""
    return plannings.stop(order.slug)


@router.post("/orders/{slug}/planning/cancel")
def drop_planning(order: ThisOrder, plannings: Planning) -> PlanningState:
    """Drop the planning whole; the plan that was there before stays."""
    return plannings.drop(order.slug)


@router.get("/events", response_class=EventSourceResponse)
async def events(plannings: Planning) -> AsyncIterable[ServerSentEvent]:
    """News of all orders as they come: state, progress, layout, planned, stopped."""
    with plannings.listening() as line:
        async for event in line.events():
            yield ServerSentEvent(event=event.kind, data=event.data)
