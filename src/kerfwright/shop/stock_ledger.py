"""What may be done with stock, each within a transaction that somebody else has opened.

The ledger only grows. What a lot has on hand, and how many of it are reserved for whom, is the sum
of its movements; no sum may fall below nothing, nor may more be reserved than there is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.findings import number_of
from kerfwright.shop.database import utc_now
from kerfwright.shop.stock_lots import LABEL_LETTERS, Lot, Moved, Movement, StockedLot
from kerfwright.shop.stock_tables import LotRow, MovementRow

MOST_SHEETS = 1_000_000
"""No shop has more of one kind; a slip of the pen."""

LABEL = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,31}")


@dataclass(frozen=True, slots=True)
class Cause:
    """Who moves something, and for what."""

    by: str
    order: str = ""
    plan_sha256: str | None = None
    sheet: int | None = None
    run: int | None = None
    note: str = ""
    reference: str = ""
    """What tells the order from others of its title; empty where the title does."""

    @property
    def whose(self) -> str:
        """By what the ledger knows the order."""
        return self.reference or self.order


_whose = func.coalesce(MovementRow.order_reference, MovementRow.order_title)
"""By what a line of the ledger knows its order; before there were references, by its title."""


class Ledger:
    """The stock, seen from inside one transaction. ``place`` is named in errors."""

    def __init__(self, session: Session, place: str) -> None:
        self._session = session
        self._place = place

    def lots(self) -> list[StockedLot]:
        """Return all lots that ever were, by label."""
        rows = self._session.scalars(select(LotRow)).all()
        on_hand: dict[int, int] = {}
        held: dict[int, dict[str, int]] = {}
        sums = select(
            MovementRow.lot_id,
            _whose,
            func.sum(MovementRow.on_hand),
            func.sum(MovementRow.held),
        ).group_by(MovementRow.lot_id, _whose)
        for lot, order, more, held_more in self._session.execute(sums):
            on_hand[lot] = on_hand.get(lot, 0) + more
            if held_more:
                held.setdefault(lot, {})[order] = held_more
        labels = {row.id: row.label for row in rows}
        found = [
            StockedLot(
                row.label,
                _lot(row),
                on_hand.get(row.id, 0),
                held.get(row.id, {}),
                None if row.cut_from_id is None else labels[row.cut_from_id],
            )
            for row in rows
        ]
        return sorted(found, key=lambda one: label_order(one.label))

    def lot(self, label: str) -> StockedLot:
        """Return the lot of a label; upper and lower case alike.

        Raises:
            KerfwrightError: ``stock/no-such-label``.
        """
        return self._stocked(self._row(label))

    def movements(self, label: str | None = None) -> list[Movement]:
        """Return the ledger, oldest first, of one lot or of all."""
        chosen = select(MovementRow, LotRow.label).join(LotRow).order_by(MovementRow.id)
        if label is not None:
            chosen = chosen.where(MovementRow.lot_id == self._row(label).id)
        return [_movement(row, name) for row, name in self._session.execute(chosen)]

    def add(
        self,
        lot: Lot,
        count: int,
        cause: Cause,
        *,
        label: str | None = None,
        what: Moved = "received",
        cut_from: str | None = None,
    ) -> StockedLot:
        """Put a new lot into stock, under the next free label unless one is given.

        Raises:
            KerfwrightError: ``stock/label-taken``, ``stock/wrong-label`` or ``stock/wrong-count``.
        """
        self._require_count(count)
        if label is not None:
            self._require_free_label(label)
        row = LotRow(
            label=label or self._next_label(LABEL_LETTERS[lot.kind]),
            material=lot.material,
            kind=lot.kind,
            width_mm=lot.width_mm,
            height_mm=lot.height_mm,
            rings=lot.rings or None,
            location=lot.location,
            cost=lot.cost,
            price_per_m2=lot.price_per_m2,
            received_on=lot.received_on,
            cut_from_id=None if cut_from is None else self._row(cut_from).id,
            note=lot.note,
        )
        self._session.add(row)
        self._session.flush()
        self._move(row, what, count, 0, cause)
        return self._stocked(row)

    def more(self, label: str, count: int, cause: Cause, *, what: Moved) -> StockedLot:
        """Put more of a lot that is known into stock: received, or returned unused."""
        self._require_count(count)
        row = self._row(label)
        if row.kind == "offcut" and self._stocked(row).on_hand + count > 1:
            raise self._not_possible(f"{row.label} is one offcut, and it is there already.")
        if what == "returned":
            self._require_gone(row, count)
        self._move(row, what, count, 0, cause)
        return self._stocked(row)

    def take(self, label: str, count: int, cause: Cause, *, what: Moved) -> StockedLot:
        """Take sheets out: used, or scrapped. Those reserved for the cause's order go first.

        Raises:
            KerfwrightError: ``stock/not-enough`` where fewer are free for that order.
        """
        self._require_count(count)
        row = self._row(label)
        there = self._stocked(row)
        if count > there.free_for(cause.whose):
            raise self._not_enough(there, count, cause.whose)
        self._move(row, what, -count, -min(count, there.held.get(cause.whose, 0)), cause)
        return self._stocked(row)

    def hold(self, wanted: Mapping[str, int], cause: Cause) -> list[StockedLot]:
        """Reserve for an order exactly what is wanted by label; what it had before is released.

        Raises:
            KerfwrightError: ``stock/not-enough``; then nothing was changed.
        """
        labels = {self._row(label).label: count for label, count in wanted.items()}
        before = {one.label: one for one in self.lots() if one.held.get(cause.whose)}
        for label in sorted({*before, *labels}, key=label_order):
            row = self._row(label)
            there = self._stocked(row)
            had, wants = there.held.get(cause.whose, 0), labels.get(label, 0)
            if wants > there.free_for(cause.whose):
                raise self._not_enough(there, wants, cause.whose)
            if wants != had:
                self._move(row, "reserved" if wants > had else "released", 0, wants - had, cause)
        return [self.lot(label) for label in labels]

    def let_go(self, label: str, cause: Cause) -> StockedLot:
        """Release what of a lot is reserved, for the cause's order or, without one, for all.

        Raises:
            KerfwrightError: ``stock/not-reserved``.
        """
        row = self._row(label)
        held = self._stocked(row).held
        orders = [order for order in held if cause.whose in ("", order)]
        if not orders:
            whom = f' for "{cause.whose}"' if cause.whose else ""
            raise KerfwrightError(
                "stock/not-reserved",
                file=self._place,
                thing=f"nothing of {row.label} is reserved{whom}.",
                remedy="kerfwright stock list shows what is reserved for whom.",
            )
        for order in orders:
            title = cause.order or self._title_of(order)
            whose = Cause(cause.by, title, cause.plan_sha256, note=cause.note, reference=order)
            self._move(row, "released", 0, -held[order], whose)
        return self._stocked(row)

    def place(self, label: str, location: str) -> StockedLot:
        """Note where a lot lies now."""
        row = self._row(label)
        row.location = location
        self._session.flush()
        return self._stocked(row)

    def _move(self, row: LotRow, what: Moved, on_hand: int, held: int, cause: Cause) -> None:
        self._session.add(
            MovementRow(
                lot_id=row.id,
                what=what,
                on_hand=on_hand,
                held=held,
                moved_at=utc_now(),
                moved_by=cause.by,
                order_title=cause.order,
                order_reference=cause.whose,
                plan_sha256=cause.plan_sha256,
                sheet_number=cause.sheet,
                run_id=cause.run,
                note=cause.note,
            )
        )
        self._session.flush()

    def _row(self, label: str) -> LotRow:
        chosen = select(LotRow).where(func.lower(LotRow.label) == label.strip().lower())
        row = self._session.scalars(chosen).one_or_none()
        if row is None:
            raise no_such_label(self._place, label)
        return row

    def _stocked(self, row: LotRow) -> StockedLot:
        sums = (
            select(_whose, func.sum(MovementRow.on_hand), func.sum(MovementRow.held))
            .where(MovementRow.lot_id == row.id)
            .group_by(_whose)
        )
        found = list(self._session.execute(sums))
        return StockedLot(
            row.label,
            _lot(row),
            sum(more for _, more, _ in found),
            {order: held for order, _, held in found if held},
            None if row.cut_from is None else row.cut_from.label,
        )

    def _title_of(self, whose: str) -> str:
        """Title of the order that has a reservation."""
        line = select(MovementRow.order_title).where(_whose == whose).order_by(MovementRow.id)
        return self._session.scalars(line).first() or ""

    def _next_label(self, letter: str) -> str:
        pattern = re.compile(rf"{letter}-(\d+)", re.IGNORECASE)
        given = (pattern.fullmatch(label) for label in self._session.scalars(select(LotRow.label)))
        return f"{letter}-{max((int(one[1]) for one in given if one), default=0) + 1:03d}"

    def _require_free_label(self, label: str) -> None:
        if not LABEL.fullmatch(label):
            raise KerfwrightError(
                "stock/wrong-label",
                file=self._place,
                thing=f'"{label}" is no label.',
                remedy="Use up to 32 letters, digits, points and dashes, such as E-014.",
            )
        same = select(LotRow.label).where(func.lower(LotRow.label) == label.lower())
        if self._session.scalar(same) is not None:
            raise KerfwrightError(
                "stock/label-taken",
                file=self._place,
                thing=f'the label "{label}" has been given before.',
                remedy="Leave --label out to get the next free one. More of a lot that is known: "
                f"kerfwright stock receive --more {label} --count N.",
            )

    def _require_count(self, count: int) -> None:
        if not 1 <= count <= MOST_SHEETS:
            raise KerfwrightError(
                "stock/wrong-count",
                file=self._place,
                thing=f"{count} is no number of sheets.",
                remedy=f"Give a whole number from 1 to {MOST_SHEETS}.",
            )

    def _require_gone(self, row: LotRow, count: int) -> None:
        """No more can come back than went out; an offcut's first line is how it came to be."""
        gone = -sum(
            line.on_hand
            for number, line in enumerate(self.movements(row.label))
            if number > 0 and line.what in ("used", "returned")
        )
        if count > gone:
            raise self._not_possible(
                f"{number_of(count, 'sheet')} of {row.label} cannot come back: {gone} went out."
            )

    def _not_possible(self, why: str) -> KerfwrightError:
        return KerfwrightError(
            "stock/more-than-went-out",
            file=self._place,
            thing=why,
            remedy="New sheets are received: kerfwright stock receive.",
        )

    def _not_enough(self, there: StockedLot, wanted: int, order: str) -> KerfwrightError:
        others = {title: n for title, n in there.held.items() if title != order}
        held = f", {there.reserved - there.held.get(order, 0)} of them reserved" if others else ""
        whom = f" (for {', '.join(others)})" if others else ""
        return KerfwrightError(
            "stock/not-enough",
            file=self._place,
            thing=f"{wanted} of {there.label} {'is' if wanted == 1 else 'are'} wanted, and "
            f"{there.on_hand} {'is' if there.on_hand == 1 else 'are'} on hand{held}{whom}.",
            remedy="Plan the order again with what is there, or put the stock right: kerfwright "
            "stock receive, return or release.",
        )


def no_such_label(place: str, label: str) -> KerfwrightError:
    """Make the error for a label that nothing has."""
    return KerfwrightError(
        "stock/no-such-label",
        file=place,
        thing=f'nothing in stock has the label "{label}".',
        remedy="kerfwright stock list --all shows every label.",
    )


def label_order(label: str) -> tuple[str, int, str]:
    """Sort key of a label: by its letters, then by its number as a number."""
    found = re.fullmatch(r"(.*?)(\d*)", label)
    letters, digits = (found[1], found[2]) if found else (label, "")
    return letters.upper(), int(digits or 0), label


def _lot(row: LotRow) -> Lot:
    return Lot(
        row.material,
        row.width_mm,
        row.height_mm,
        row.received_on,
        "offcut" if row.kind == "offcut" else "sheet",
        tuple(tuple((float(x), float(y)) for x, y in ring) for ring in row.rings or ()),
        row.location,
        row.cost,
        row.price_per_m2,
        row.note,
    )


def _movement(row: MovementRow, label: str) -> Movement:
    return Movement(
        row.id,
        label,
        row.what,  # type: ignore[arg-type]
        row.on_hand,
        row.held,
        row.moved_at.replace(tzinfo=UTC),
        row.moved_by,
        row.order_title,
        row.plan_sha256,
        row.sheet_number,
        row.run_id,
        row.note,
        "" if row.order_reference == row.order_title else row.order_reference or "",
    )
