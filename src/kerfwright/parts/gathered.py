"""Many like findings told as few: the first places in full, the rest as a count."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from kerfwright.findings import Finding, Severity

TOLD_IN_FULL = 10
"""Places of one kind that are told one by one."""

NAMED_IN_FULL = 4


def names_of(names: Iterable[str]) -> str:
    """The first names, and how many more there are."""
    named = list(dict.fromkeys(names))
    more = len(named) - NAMED_IN_FULL
    if more <= 1:
        return ", ".join(named)
    return f"{', '.join(named[:NAMED_IN_FULL])} and {more} more"


def counted(
    severity: Severity,
    code: str,
    shapes: Sequence[str],
    subject: tuple[str, str],
    rest: str,
    remedy: str,
    *,
    drawing: str,
) -> list[Finding]:
    """Tell of all ``shapes`` in one finding, of none in none.

    It reads: how many, ``subject`` (the words for one, for several), ``rest``.
    """
    if not shapes:
        return []
    return [
        Finding(
            severity,
            code,
            f"{len(shapes)} {subject[len(shapes) > 1]}{rest}",
            remedy,
            drawing=drawing,
            shape=names_of(shapes),
            count=len(shapes),
        )
    ]


def gathered(findings: Sequence[Finding]) -> list[Finding]:
    """Keep the first findings of one kind, and let one more stand for all the rest."""
    if len(findings) <= TOLD_IN_FULL + 1:
        return list(findings)
    rest = findings[TOLD_IN_FULL:]
    places = sum(finding.count for finding in rest)
    return [
        *findings[:TOLD_IN_FULL],
        replace(
            rest[0],
            what=f"The same in {places} more places, the first of them: {rest[0].what}",
            shape=names_of(finding.shape for finding in rest),
            count=places,
        ),
    ]
