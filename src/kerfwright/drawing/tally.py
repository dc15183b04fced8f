"""Gathers what reading a drawing has to tell, and says it once for each kind of thing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import Affine

NAMED = 3
"""Names given in a finding that stands for several things."""

SINGLY = 20
"""Findings that are told one by one up to this many of a kind."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of thing to tell: ``one`` or ``several`` follow the count, ``rest`` follows both."""

    severity: Severity
    one: str
    several: str
    remedy: str
    rest: str = ""
    singly: bool = False


@dataclass(frozen=True, slots=True)
class Case:
    """One thing met, or ``count`` alike, in a shape and at a place where those are known."""

    shape: str
    detail: str
    at_mm: tuple[float, float] | None
    count: int


class Tally:
    """Cases by slug, in the order they were met."""

    def __init__(self, kinds: Mapping[str, Kind]) -> None:
        self._kinds = kinds
        self._cases: dict[str, list[Case]] = defaultdict(list)

    def __bool__(self) -> bool:
        return bool(self._cases)

    def add(
        self,
        slug: str,
        *,
        shape: str = "",
        detail: str = "",
        at_mm: tuple[float, float] | None = None,
        count: int = 1,
    ) -> None:
        """Count one case (or ``count`` at once) of ``drawing/slug``."""
        self._cases[slug].append(Case(shape, detail, at_mm, count))

    def count(self, slug: str) -> int:
        """How many cases of ``drawing/slug`` were met."""
        return total(self._cases.get(slug, ()))

    def moved(self, by: Affine) -> None:
        """Move the places of all cases."""
        for slug, cases in self._cases.items():
            self._cases[slug] = [
                case if case.at_mm is None else replace(case, at_mm=_moved(case.at_mm, by))
                for case in cases
            ]

    def findings(self, drawing: str) -> tuple[Finding, ...]:
        """Everything met as findings about ``drawing``, stops first."""
        found: list[Finding] = []
        for slug, cases in self._cases.items():
            singly = cases[:SINGLY] if self._kinds[slug].singly else []
            found += [self._finding(slug, [case], drawing) for case in singly]
            if len(cases) > len(singly):
                found.append(self._finding(slug, cases[len(singly) :], drawing))
        return tuple(sorted(found, key=lambda finding: list(Severity).index(finding.severity)))

    def summary(self) -> str:
        """Everything met, in one phrase."""
        return "; ".join(self._sentence(slug, cases) for slug, cases in self._cases.items())

    def nothing_read(self, file: str) -> KerfwrightError:
        """The error of a drawing that holds nothing to work with, and what was found instead."""
        left_out = self.summary()
        return KerfwrightError(
            "drawing/empty",
            file=file,
            thing="There is no line and no area in the drawing that could be worked with"
            + (f" (found: {left_out})." if left_out else "."),
            remedy="Check that its layers are shown and that text is turned into outlines.",
        )

    def _named(self, cases: Sequence[Case]) -> str:
        """What of the cases' shapes and details is worth naming, in brackets."""
        places = dict.fromkeys(": ".join(filter(None, (c.shape, c.detail))) for c in cases)
        return first_of([place for place in places if place], NAMED, "; ")

    def _sentence(self, slug: str, cases: Sequence[Case]) -> str:
        kind, count = self._kinds[slug], total(cases)
        named = self._named(cases)
        words = (f"{count} {kind.one if count == 1 else kind.several}", kind.rest)
        return " ".join(filter(None, words)) + (f" ({named})" if named else "")

    def _finding(self, slug: str, cases: Sequence[Case], drawing: str) -> Finding:
        first = cases[0]
        return Finding(
            self._kinds[slug].severity,
            f"drawing/{slug}",
            self._sentence(slug, cases) + ".",
            self._kinds[slug].remedy,
            drawing=drawing,
            shape=first.shape,
            x_mm=None if first.at_mm is None else first.at_mm[0],
            y_mm=None if first.at_mm is None else first.at_mm[1],
            count=total(cases),
        )


def total(cases: Sequence[Case]) -> int:
    """How many things the cases stand for."""
    return sum(case.count for case in cases)


def first_of(names: Sequence[str], most: int, separator: str) -> str:
    """The first few names, and how many more there are."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return separator.join(names[:most]) + more


def _moved(at_mm: tuple[float, float], by: Affine) -> tuple[float, float]:
    x, y = at_mm
    return by.a * x + by.c * y + by.e, by.b * x + by.d * y + by.f
