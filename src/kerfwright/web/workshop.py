"""The folder that the pages work in: orders, each in a folder of its own, and the shop's files.

::

    workshop/
      machine.toml  (or machines/*.toml)      materials/*.toml      rates.toml
      order.toml                              an order may lie in the workshop's own folder,
      orders/harbour-sign/order.toml          and others in folders of their own
      orders/harbour-sign/*.svg               with their drawings
      orders/harbour-sign/plan/               and what planning wrote
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from kerfwright.errors import KerfwrightError

ORDER_FILE = "order.toml"

PLAN_FOLDER = "plan"

MOST_ORDERS = 10_000

_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class OrderFolder:
    """Where an order lies; ``slug`` is its name in addresses."""

    slug: str
    folder: Path

    @property
    def file(self) -> Path:
        """The order file."""
        return self.folder / ORDER_FILE

    @property
    def plan_folder(self) -> Path:
        """Where its plan is written."""
        return self.folder / PLAN_FOLDER


@dataclass(frozen=True, slots=True)
class Workshop:
    """A workshop's folder; ``records`` is the place of its records, ``None`` for the usual one."""

    folder: Path
    records: str | None = None

    def orders(self) -> tuple[OrderFolder, ...]:
        """All orders, in order of their names."""
        found = [*self.folder.glob(ORDER_FILE), *self.folder.glob(f"orders/*/{ORDER_FILE}")]
        orders = {slug_of(file.parent.resolve().name): file.parent for file in sorted(found)}
        return tuple(OrderFolder(slug, folder) for slug, folder in sorted(orders.items()) if slug)

    def order(self, slug: str) -> OrderFolder:
        """Return the order of that name.

        Raises:
            KerfwrightError: ``pages/no-such-order``.
        """
        found = next((one for one in self.orders() if one.slug == slug), None)
        if found is None:
            raise KerfwrightError(
                "pages/no-such-order",
                file=str(self.folder),
                thing=f'there is no order "{slug}".',
                remedy="Choose one from the list of orders, or begin a new one there.",
            )
        return found

    def new_order_folder(self, title: str) -> OrderFolder:
        """Return a folder for an order of that title that is not there yet."""
        base = slug_of(title) or "order"
        taken = {one.slug for one in self.orders()}
        numbered = (base if n == 1 else f"{base}-{n}" for n in range(1, MOST_ORDERS))
        slug = next(
            name
            for name in numbered
            if name not in taken and not (self.folder / "orders" / name).exists()
        )
        return OrderFolder(slug, self.folder / "orders" / slug)

    def machine_files(self) -> tuple[Path, ...]:
        """Machine files, the workshop's own first."""
        return (
            *sorted(self.folder.glob("machine*.toml")),
            *sorted(self.folder.glob("machines/*.toml")),
        )

    def material_files(self) -> tuple[Path, ...]:
        """Material files."""
        return tuple(sorted(self.folder.glob("materials/*.toml")))

    def listed_machine(self, name: str) -> Path:
        """The machine file of that name, as the pages know it: no other path is ever followed.

        Raises:
            KerfwrightError: ``pages/nothing-there``.
        """
        return self._listed(name, self.machine_files())

    def listed_material(self, name: str) -> Path:
        """The material file of that name, in the same way.

        Raises:
            KerfwrightError: ``pages/nothing-there``.
        """
        return self._listed(name, self.material_files())

    def rates_file(self) -> Path | None:
        """The rates file, where there is one."""
        file = self.folder / "rates.toml"
        return file if file.is_file() else None

    def shown(self, path: str) -> str:
        """Shorten a path to what it is within the workshop, for messages."""
        for folder in (self.folder, self.folder.resolve()):
            path = path.removeprefix(f"{folder}/")
        return path

    def _listed(self, name: str, files: tuple[Path, ...]) -> Path:
        found = next(
            (one for one in files if one.relative_to(self.folder).as_posix() == name), None
        )
        if found is None:
            raise KerfwrightError(
                "pages/nothing-there",
                file=name or "the choice",
                thing="the workshop has no such machine or material file.",
                remedy="Choose one of those that are listed.",
            )
        return found


def slug_of(name: str) -> str:
    """Make a name fit for addresses and folders: small letters, digits, hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:60].strip("-")


def is_slug(name: str) -> bool:
    """Whether a name can be that of an order in an address."""
    return _SLUG.fullmatch(name) is not None
