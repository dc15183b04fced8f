"""What is asked of the readers for an order's drawings, and what is remembered of the answers."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import Shop, load_order, load_shop
from kerfwright.shop.order import Rule
from kerfwright.web.drawn import Asked, caught, drawn_item
from kerfwright.web.drawn_model import Caught
from kerfwright.web.reading import READERS
from kerfwright.web.remembered import Remembered
from kerfwright.web.stocked import stock_reader
from kerfwright.web.telling import told
from kerfwright.web.workshop import OrderFolder, Workshop

HOW_MANY_AND_WHEN = {"quantity", "at_most", "due", "priority"}
"""What an item says that its picture, and findings before planning, do not depend on."""

ANSWERS = Remembered(96 * 1024 * 1024)


class DrawnOrder:
    """An order's drawings as the readers see them.

    ``trouble`` says why machine, materials and sheets are not known, where they are not; drawings
    are shown all the same.

    Raises:
        KerfwrightError: the order file itself cannot be read.
    """

    def __init__(self, workshop: Workshop, folder: OrderFolder) -> None:
        self._workshop = workshop
        self._folder = folder
        self.shop: Shop | None = None
        self.trouble: dict[str, str] | None = None
        try:
            self.shop = load_shop(folder.file, stock_reader(workshop))
            self.order = self.shop.order
        except KerfwrightError as error:
            self.trouble = told(error, workshop)
            self.order = load_order(folder.file)

    def item(self, number: int, digest: str = "") -> tuple[str, bytes | None]:
        """Return the digest of what an item's picture depends on, and the picture as JSON.

        ``None`` if ``digest`` is that digest: whoever asks has the picture already.

        Raises:
            KerfwrightError: there is no such item, or its drawing cannot be read.
        """
        asked = self._asked(number)
        now = self._digest(asked)
        if now == digest:
            return now, None
        answer = ANSWERS.get(now)
        if answer is None:
            answer = READERS.ask(asked.path.name, drawn_item, asked, self.shop, now, self.trouble)
            ANSWERS.keep(now, answer)
        return now, answer

    def caught(self, number: int, rule: Rule, rules: Sequence[Rule], place: int) -> Caught:
        """Tell what a rule would take of an item; ``rules`` are the others that hold for it."""
        asked = self._asked(number)
        return READERS.ask(asked.path.name, caught, asked, rule, tuple(rules), place)

    def _asked(self, number: int) -> Asked:
        items = self.order.items
        if not 0 <= number < len(items):
            raise no_such_item(self._folder.slug, number)
        path = self._folder.folder / items[number].drawing
        # whoever may change an order file must not see other files of this computer by it
        if not path.resolve().is_relative_to(self._workshop.folder.resolve()):
            raise KerfwrightError(
                "pages/drawing-elsewhere",
                file=items[number].drawing,
                thing="lies outside the workshop's folder, and the pages show only what is in it.",
                remedy="Copy the drawing into the order's folder and name it there.",
            )
        return Asked(self.order, items[number], path, _sha256(path))

    def _digest(self, asked: Asked) -> str:
        shop = self.shop
        depends = [asked.sha256, str(asked.path)]
        depends += [asked.item.model_dump_json(exclude=HOW_MANY_AND_WHEN)]
        depends += [rule.model_dump_json() for rule in self.order.rules]
        depends += [self.order.settings.model_dump_json()]
        if self.trouble is not None:
            depends += self.trouble.values()
        if shop is not None:
            depends += [shop.machine.model_dump_json()]
            depends += [shop.material(asked.item.material).model_dump_json()]
            depends += [sheet.model_dump_json() for sheet in self.order.stock]
        return hashlib.sha256("\0".join(depends).encode("utf-8", "replace")).hexdigest()


def no_such_item(slug: str, number: int) -> KerfwrightError:
    """Make the error for an item that is not in the order."""
    return KerfwrightError(
        "pages/nothing-there",
        file=slug,
        thing=f"the order has no item {number + 1}.",
        remedy="Load the page again: the order may have been changed elsewhere.",
    )


def _sha256(path: Path) -> str:
    try:
        stat = path.stat()
    except (OSError, ValueError):
        return ""
    return _sha256_of(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=256)
def _sha256_of(path: Path, _changed_ns: int, _size: int) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""
