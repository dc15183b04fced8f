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

import hashlib
import os
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from kerfwright.errors import KerfwrightError

ORDER_FILE = "order.toml"

PLAN_FOLDER = "plan"

MOST_ORDERS = 10_000

_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)", re.IGNORECASE)

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
        """All orders, in order of their names.

        A folder that people named so that its name in addresses would be another's, or none at
        all, gets a few signs behind it that stay the same.
        """
        found = [*self.folder.glob(ORDER_FILE), *self.folder.glob(f"orders/*/{ORDER_FILE}")]
        orders: dict[str, Path] = {}
        # those that are named as addresses are come first
        for folder in sorted((file.parent for file in found), key=_named_otherwise):
            name = _name_of(folder)
            slug = slug_of(name) or "order"
            if slug in orders or not slug_of(name):
                slug = f"{slug}-{hashlib.sha256(os.fsencode(name)).hexdigest()[:8]}"
            orders.setdefault(slug, folder)
        return tuple(OrderFolder(slug, folder) for slug, folder in sorted(orders.items()))

    def order(self, slug: str) -> OrderFolder:
        """Return the order of that name.

        Raises:
            KerfwrightError: ``pages/no-such-order``, or ``pages/leads-outside`` where links in
                it lead out of the workshop.
        """
        found = next((one for one in self.orders() if one.slug == slug), None)
        if found is None:
            raise KerfwrightError(
                "pages/no-such-order",
                file=str(self.folder),
                thing=f'there is no order "{slug}".',
                remedy="Choose one from the list of orders, or begin a new one there.",
            )
        self.require_inside(found)
        return found

    def require_inside(self, order: OrderFolder) -> None:
        """Refuse an order whose folder, file or plan lies elsewhere, by a link.

        Raises:
            KerfwrightError: ``pages/leads-outside``.
        """
        for path in (order.folder, order.file, order.plan_folder):
            if not is_within(path, self.folder):
                raise KerfwrightError(
                    "pages/leads-outside",
                    file=self.shown(str(path)),
                    thing="a link leads out of the workshop's folder, and the pages show and "
                    "change only what is in it.",
                    remedy="Move what it leads to into the workshop's folder.",
                )

    def new_order_folder(self, title: str) -> OrderFolder:
        """Return a folder for an order of that title that is not there yet."""
        base = slug_of(title) or "order"
        base = f"order-{base}" if is_reserved(base) else base
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


def is_reserved(name: str) -> bool:
    """Whether a file of that name cannot be on Windows.

    As Microsoft's "Naming Files, Paths, and Namespaces" lists them (from memory).
    """
    return _RESERVED.match(name) is not None


def is_within(path: Path, folder: Path) -> bool:
    """Whether a path, all links followed, leads into a folder."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):  # no path at all, too long, links in a circle
        return False


def _name_of(folder: Path) -> str:
    """The name of an order's folder; the workshop's own may be given as "."."""
    return folder.name or folder.resolve().name


def _named_otherwise(folder: Path) -> tuple[bool, str]:
    name = _name_of(folder)
    return name != slug_of(name), name


def slug_of(name: str) -> str:
    """Make a name fit for addresses and folders: small letters, digits, hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:60].strip("-")


def is_slug(name: str) -> bool:
    """Whether a name can be that of an order in an address."""
    return _SLUG.fullmatch(name) is not None
