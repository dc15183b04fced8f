"""Names: which layer a shape belongs to, and what the shape itself is called.

Drawing programs write a layer as a group. Where groups are marked as layers, these count and
nested ones are joined ("Sign/Engrave"); else the nearest group with a label; else the nearest
with an id, passing over ids that a program numbered by itself ("g42"). A ``data-name``
stands for an id that a program had to change, and ``_x20_`` in an id for a space. A copy made with
``use`` belongs to the layer where the copy stands.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace

from lxml import etree

_NUMBERED = re.compile(r"g(roup)?[-_]?\d[\d\-_]*", re.IGNORECASE)

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{2,4})_")


@dataclass(frozen=True, slots=True)
class Layer:
    """What the groups around an element say about its layer."""

    marked: tuple[str, ...] = ()
    labelled: str = ""
    named: str = ""
    numbered: str = ""
    fixed: bool = False

    @property
    def name(self) -> str:
        """The layer's name, "" for none."""
        return "/".join(self.marked) or self.labelled or self.named or self.numbered

    def inside(self, group: etree._Element) -> Layer:
        """Return what holds inside ``group``."""
        if self.fixed:
            return self
        name = (group.get("data-name") or _unescaped(group.get("id") or "")).strip()
        label = next(
            (v.strip() for k, v in group.attrib.items() if etree.QName(k).localname == "label"),
            "",
        )
        mode = any(
            etree.QName(key).localname == "groupmode" and value == "layer"
            for key, value in group.attrib.items()
        )
        if mode and (label or name):
            return replace(self, marked=(*self.marked, label or name))
        if label:
            return replace(self, labelled=label)
        if _NUMBERED.fullmatch(name):
            return replace(self, numbered=name)
        return replace(self, named=name) if name else self

    def copied(self) -> Layer:
        """Return what holds inside a copy: its own groups count only where there is no layer."""
        return replace(self, fixed=bool(self.name))


def _unescaped(name: str) -> str:
    """An id with the characters back that XML allows in no id, written as their code: ``_x20_``."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), name)


class Names:
    """Gives every shape a name that no other shape of the drawing has."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._kinds: Counter[str] = Counter()
        self._repeats: Counter[str] = Counter()

    def name(self, kind: str, wanted: str) -> str:
        """Return ``wanted`` if it is free, with a number behind it if not; else kind and number."""
        self._kinds[kind] += 1
        name = wanted or f"{kind} {self._kinds[kind]}"
        base = name
        while name in self._taken:
            self._repeats[base] = max(self._repeats[base], 1) + 1
            name = f"{base} ({self._repeats[base]})"
        self._taken.add(name)
        return name
