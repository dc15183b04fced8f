"""Orders in the shop's database: their states, their plans, and what their runs came to."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database, utc_now
from kerfwright.shop.faults import nearest
from kerfwright.shop.order_states import OrderState
from kerfwright.shop.order_tables import OrderRow, OrderStepRow, PlanRow, PlanSheetRow
from kerfwright.shop.record_tables import RunRow

ORDERS_FORM = 2
"""The first form of the tables that has orders in it."""


@dataclass(frozen=True, slots=True)
class SheetOfPlan:
    """A sheet of a plan, as an order keeps it; areas in mm², times in seconds."""

    number: int
    material: str
    sheet: str
    program_sha256: str | None
    time_s: float
    """Expected, where past runs taught that; else the clock's."""
    sheet_mm2: float
    parts_mm2: float
    parts: int


@dataclass(frozen=True, slots=True)
class PlannedOrder:
    """A plan, as an order keeps it; ``net`` is what the quote in its folder asks, if any."""

    title: str
    machine: str
    folder: str
    sha256: str
    sheets: tuple[SheetOfPlan, ...]
    net: Decimal | None = None
    currency: str = ""
    reference: str = ""
    """What tells the order from others of its title; empty where the title does."""

    @property
    def whose(self) -> str:
        """By what the records know the order."""
        return self.reference or self.title


@dataclass(frozen=True, slots=True)
class RunOfSheet:
    """A run of a planned sheet."""

    number: int
    ran_on: datetime.date
    computed_s: float
    actual_s: float
    scrapped_parts: int


@dataclass(frozen=True, slots=True)
class SheetWork:
    """A sheet of an order's plan with its runs; the second and later ones are re-makes."""

    sheet: SheetOfPlan
    runs: tuple[RunOfSheet, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """An order came into a state; the moment is in UTC."""

    state: OrderState
    at: datetime.datetime
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class ShopOrder:
    """An order on record, with its last plan."""

    number: int
    title: str
    customer: str
    due: datetime.date | None
    steps: tuple[Step, ...]
    plan: PlannedOrder | None = None
    work: tuple[SheetWork, ...] = ()
    reference: str = ""
    """What tells it from others of its title; empty where the title does."""

    @property
    def state(self) -> OrderState:
        """Where the order stands."""
        return self.steps[-1].state

    @property
    def to_run(self) -> tuple[SheetOfPlan, ...]:
        """Sheets with a program that has not been run yet."""
        return tuple(one.sheet for one in self.work if one.sheet.program_sha256 and not one.runs)

    @property
    def actual_s(self) -> float:
        """What all runs took, re-makes included."""
        return sum(run.actual_s for one in self.work for run in one.runs)

    @property
    def last_run(self) -> datetime.date | None:
        """Day of the last run of any of its sheets."""
        return max((run.ran_on for one in self.work for run in one.runs), default=None)

    @property
    def expected_s(self) -> float:
        """What the sheets that were run were expected to take, each once."""
        return sum(one.sheet.time_s for one in self.work if one.runs)

    @property
    def an_hour(self) -> Decimal | None:
        """Net price for each hour of the machine; ``None`` before all is run, or without quote."""
        if self.plan is None or self.plan.net is None or self.to_run or not self.actual_s:
            return None
        return self.plan.net * 3600 / Decimal(self.actual_s)


class Orders:
    """Orders on record in ``database``. Every call is one transaction.

    Every method raises :class:`KerfwrightError` where the database cannot be read or written.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.place = database.place

    def all(self) -> list[ShopOrder]:
        """Return every order: what is due first comes first, then in the order of recording."""
        with self._database.reading(ORDERS_FORM) as session:
            if session is None:
                return []
            rows = session.scalars(select(OrderRow)).all()
            orders = [_order(session, row) for row in rows]
        return sorted(orders, key=lambda one: (one.due or datetime.date.max, one.number))

    def order(self, name: str) -> ShopOrder:
        """Return an order by its reference, its title or its number.

        Raises:
            KerfwrightError: ``orders/no-such-order`` or ``orders/several-of-title``.
        """
        with self._database.reading(ORDERS_FORM) as session:
            if session is not None:
                return _order(session, self._row(session, name))
        raise self._unknown(name, [])

    def add(
        self,
        title: str,
        *,
        by: str,
        reference: str = "",
        customer: str = "",
        due: datetime.date | None = None,
        state: OrderState = "ordered",
    ) -> ShopOrder:
        """Put a new order on record; where its title is taken it needs a reference.

        Raises:
            KerfwrightError: ``orders/no-title`` or ``orders/title-taken``.
        """
        if not title.strip():
            raise KerfwrightError(
                "orders/no-title",
                file=self.place,
                thing="the order has no title.",
                remedy='Give the title that stands in its order file, such as "Regatta".',
            )
        with self._writing() as session:
            whose = reference.strip() or title
            if session.scalar(select(OrderRow).where(OrderRow.reference == whose)) is not None:
                raise KerfwrightError(
                    "orders/title-taken",
                    file=self.place,
                    thing=f'there is an order "{whose}" already.',
                    remedy="Give this one a reference of its own (--reference), and the same in "
                    "its order file: reference = … Stock is reserved under it.",
                )
            return _order(session, _new(session, whose, title, customer, due, state, by))

    def change(
        self,
        name: str,
        *,
        customer: str | None = None,
        due: datetime.date | None = None,
        no_day: bool = False,
    ) -> ShopOrder:
        """Put right whose an order is, or when it is due; ``None`` leaves it as it was.

        With ``no_day`` it is due on no day any more.
        """
        with self._writing() as session:
            row = self._row(session, name)
            row.customer = row.customer if customer is None else customer
            row.due = None if no_day else due or row.due
            session.flush()
            return _order(session, row)

    def step(self, name: str, state: OrderState, *, by: str, note: str = "") -> ShopOrder:
        """Say that an order has come into a state."""
        with self._writing() as session:
            row = self._row(session, name)
            row.steps.append(_step(state, by, note))
            session.flush()
            return _order(session, row)

    def plan(self, planned: PlannedOrder, *, by: str) -> ShopOrder:
        """Keep a plan with the order of its reference, put on record if it is not there yet.

        An order that was quoted or ordered is planned from now on.

        Raises:
            KerfwrightError: ``orders/several-of-title`` where the plan has no reference, and
                orders on record have its title and one each.
        """
        with self._writing() as session:
            known = select(OrderRow).where(OrderRow.reference == planned.whose)
            alike = select(OrderRow).where(OrderRow.title == planned.title)
            found = session.scalar(known)
            if found is None and not planned.reference:
                self._require_none(planned.title, session.scalars(alike).all())
            row = found or _new(session, planned.whose, planned.title, "", None, "ordered", by)
            before = session.scalar(select(PlanRow).where(PlanRow.sha256 == planned.sha256))
            if before is None:
                row.plans.append(_plan_row(planned))
            else:
                before.net, before.currency = planned.net, planned.currency
                before.folder = planned.folder
            if row.steps[-1].state in ("quoted", "ordered"):
                row.steps.append(_step("planned", by, ""))
            session.flush()
            session.refresh(row)
            return _order(session, row)

    def _row(self, session: Session, name: str) -> OrderRow:
        rows = session.scalars(select(OrderRow).order_by(OrderRow.id)).all()
        for row in rows:
            if row.reference == name:
                return row
        titled = [row for row in rows if row.title == name]
        self._require_none(name, titled[1:] and titled)
        found = titled or [row for row in rows if str(row.id) == name]
        if not found:
            raise self._unknown(name, [row.title for row in rows])
        return found[0]

    def _require_none(self, title: str, rows: Sequence[OrderRow]) -> None:
        """Refuse to choose among orders that share a title."""
        if not rows:
            return
        references = ", ".join(f'"{row.reference}"' for row in rows)
        raise KerfwrightError(
            "orders/several-of-title",
            file=self.place,
            thing=f'the title "{title}" does not tell which order is meant: on record is '
            f"{references}.",
            remedy="Name the order by its reference; a plan has it from its order file "
            "(reference = …).",
        )

    def _unknown(self, title: str, titles: Sequence[str]) -> KerfwrightError:
        like = nearest(title, titles)
        hint = f'Did you mean "{like}"? ' if like else ""
        return KerfwrightError(
            "orders/no-such-order",
            file=self.place,
            thing=f'no order on record has the reference, title or number "{title}".',
            remedy=f"{hint}kerfwright orders list --all shows all of them.",
        )

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        with self._database.writing() as session:
            yield session


def _new(
    session: Session,
    reference: str,
    title: str,
    customer: str,
    due: datetime.date | None,
    state: OrderState,
    by: str,
) -> OrderRow:
    row = OrderRow(
        reference=reference,
        title=title,
        customer=customer,
        due=due,
        steps=[_step(state, by, "")],
        plans=[],
    )
    session.add(row)
    session.flush()
    return row


def _step(state: OrderState, by: str, note: str) -> OrderStepRow:
    return OrderStepRow(state=state, stepped_at=utc_now(), stepped_by=by, note=note)


def _plan_row(planned: PlannedOrder) -> PlanRow:
    return PlanRow(
        sha256=planned.sha256,
        folder=planned.folder,
        machine=planned.machine,
        planned_at=utc_now(),
        net=planned.net,
        currency=planned.currency,
        sheets=[
            PlanSheetRow(
                number=one.number,
                material=one.material,
                sheet=one.sheet,
                program_sha256=one.program_sha256,
                time_s=one.time_s,
                sheet_mm2=one.sheet_mm2,
                parts_mm2=one.parts_mm2,
                parts=one.parts,
            )
            for one in planned.sheets
        ],
    )


def _order(session: Session, row: OrderRow) -> ShopOrder:
    steps = tuple(
        Step(one.state, one.stepped_at.replace(tzinfo=UTC), one.stepped_by, one.note)  # type: ignore[arg-type]
        for one in row.steps
    )
    beside = "" if row.reference == row.title else row.reference
    order = ShopOrder(row.id, row.title, row.customer, row.due, steps, reference=beside)
    if not row.plans:
        return order
    kept = row.plans[-1]
    sheets = tuple(
        SheetOfPlan(
            one.number,
            one.material,
            one.sheet,
            one.program_sha256,
            one.time_s,
            one.sheet_mm2,
            one.parts_mm2,
            one.parts,
        )
        for one in kept.sheets
    )
    plan = PlannedOrder(
        row.title, kept.machine, kept.folder, kept.sha256, sheets, kept.net, kept.currency, beside
    )
    work = tuple(SheetWork(sheet, _runs(session, plan, sheet)) for sheet in sheets)
    return replace(order, plan=plan, work=work)


def _runs(session: Session, plan: PlannedOrder, sheet: SheetOfPlan) -> tuple[RunOfSheet, ...]:
    """Runs of a sheet: of its program, its order and its number, on the plan's machine."""
    chosen = select(RunRow).where(
        RunRow.machine == plan.machine,
        RunRow.program_sha256 == (sheet.program_sha256 or ""),
        func.coalesce(RunRow.order_reference, RunRow.order_title) == plan.whose,
        RunRow.sheet_number == sheet.number,
        RunRow.forgotten_at.is_(None),
    )
    return tuple(
        RunOfSheet(row.id, row.ran_on, row.computed_s, row.actual_s, row.scrapped_parts or 0)
        for row in session.scalars(chosen.order_by(RunRow.id))
    )
