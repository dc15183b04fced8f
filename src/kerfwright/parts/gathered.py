"""Many like findings told as few: the first places in full, the rest as a count."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from kerfwright.findings import Finding

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
