"""The stock in the shop's database: every call is one transaction."""

from __future__ import annotations

import getpass
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from kerfwright.shop.database import Database
from kerfwright.shop.stock_ledger import Cause, Ledger, no_such_label
from kerfwright.shop.stock_lots import Lot, Movement, StockedLot, require_possible

STOCK_FORM = 2
"""The first form of the tables that has stock in it."""


def whoever() -> str:
    """Name of whoever is logged in, or nothing where the system does not say."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


class Stock:
    """Sheets and offcuts on record in ``database``.

    Every method raises :class:`KerfwrightError` as :class:`~kerfwright.shop.stock_ledger.Ledger`
    and :class:`~kerfwright.shop.database.Database` do; then nothing was changed.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.place = database.place

    def lots(self, *, gone: bool = False) -> list[StockedLot]:
        """Return what is on hand; with ``gone`` also what was there once."""
        with self._database.reading(STOCK_FORM) as session:
            lots = [] if session is None else Ledger(session, self.place).lots()
        return [one for one in lots if gone or one.on_hand > 0]

    def of_materials(self, materials: Sequence[str]) -> list[StockedLot]:
        """Return what is on hand of these materials."""
        return [one for one in self.lots() if one.lot.material in materials]

    def lot(self, label: str) -> StockedLot:
        """Return one lot."""
        with self._database.reading(STOCK_FORM) as session:
            if session is None:
                raise no_such_label(self.place, label)
            return Ledger(session, self.place).lot(label)

    def movements(self, label: str | None = None) -> list[Movement]:
        """Return the ledger, oldest first."""
        with self._database.reading(STOCK_FORM) as session:
            if session is not None:
                return Ledger(session, self.place).movements(label)
            if label is not None:
                raise no_such_label(self.place, label)
            return []

    def receive(
        self, lots: Sequence[tuple[Lot, int, str | None]], cause: Cause
    ) -> list[StockedLot]:
        """Put new lots into stock, all or none: each with its count, and its label if it has one.

        Raises:
            KerfwrightError: a lot cannot be meant, or its label is taken.
        """
        for lot, _, label in lots:
            require_possible(lot, label or self.place)
        with self._writing() as ledger:
            return [ledger.add(lot, count, cause, label=label) for lot, count, label in lots]

    def receive_more(self, label: str, count: int, cause: Cause) -> StockedLot:
        """Put more of a known lot into stock."""
        with self._writing() as ledger:
            return ledger.more(label, count, cause, what="received")

    def give_back(self, label: str, count: int, cause: Cause) -> StockedLot:
        """Put back what was taken out and not cut."""
        with self._writing() as ledger:
            return ledger.more(label, count, cause, what="returned")

    def use(
        self, label: str, count: int, cause: Cause, left: Lot | None = None
    ) -> tuple[StockedLot, StockedLot | None]:
        """Take sheets out for work; ``left`` comes back as an offcut under a label of its own."""
        if left is not None:
            require_possible(left, label)
        with self._writing() as ledger:
            return used(ledger, label, count, cause, left)

    def scrap(self, label: str, count: int, cause: Cause) -> StockedLot:
        """Take out what is good for nothing any more."""
        with self._writing() as ledger:
            return ledger.take(label, count, cause, what="scrapped")

    def reserve(self, wanted: Mapping[str, int], cause: Cause) -> list[StockedLot]:
        """Reserve for an order what is wanted by label, instead of what it had reserved before."""
        with self._writing() as ledger:
            return ledger.hold(wanted, cause)

    def release(self, label: str, cause: Cause) -> StockedLot:
        """Release what of a lot is reserved: for the cause's order or, without one, for all."""
        with self._writing() as ledger:
            return ledger.let_go(label, cause)

    def release_order(self, cause: Cause) -> list[StockedLot]:
        """Release everything that is reserved for an order; return what it was."""
        with self._writing() as ledger:
            held = [one.label for one in ledger.lots() if one.held.get(cause.whose)]
            ledger.hold({}, cause)
            return [ledger.lot(label) for label in held]

    def put(self, label: str, location: str) -> StockedLot:
        """Note where a lot lies now."""
        with self._writing() as ledger:
            return ledger.place(label, location)

    @contextmanager
    def _writing(self) -> Iterator[Ledger]:
        with self._database.writing() as session:
            yield Ledger(session, self.place)


def used(
    ledger: Ledger, label: str, count: int, cause: Cause, left: Lot | None
) -> tuple[StockedLot, StockedLot | None]:
    """Take sheets out within a transaction, and bring back what is left as an offcut."""
    taken = ledger.take(label, count, cause, what="used")
    if left is None:
        return taken, None
    back = ledger.add(left, 1, cause, what="returned", cut_from=taken.label)
    return taken, back
