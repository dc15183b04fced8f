"""The numbered list of findings under a picture, its lines broken to the width of the paper."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from kerfwright.findings import Finding, Severity
from kerfwright.output.text import printable, xml_text

FONT = 2.9
"""Height of the letters in mm, 8 points: small print that can still be read."""

LEADING = 3.9

LETTER = 0.49
"""Width of a letter over its height, in running text in the usual fonts."""

INDENT = 16.0

SignAt = Callable[[int, Severity, float, float], str]


def finding_list(
    told: Sequence[tuple[int, Finding]], width: float, y: float, sign: SignAt
) -> tuple[str, float]:
    """List of findings as SVG from ``y`` downwards, and where it ends.

    ``sign`` draws a finding's number, of a severity, at a place.
    """
    if not told:
        return "", y
    out = [f'<path class="to" d="M8 {y - 4:.1f}H{width - 8:g}"/>']
    columns = int((width - INDENT - 8.0) / (LETTER * FONT))
    for number, finding in told:
        lines = _lines(finding, columns)
        out.append(sign(number, finding.severity, 11.0, y + 0.4))
        out += [
            f'<text class="{style}" x="{INDENT:g}" y="{y + 1.3 + line * LEADING:.1f}" '
            f'font-size="{FONT}">{xml_text(words)}</text>'
            for line, (style, words) in enumerate(lines)
        ]
        y += LEADING * len(lines) + 2.4
    return "".join(out), y + 1.0


def _lines(finding: Finding, columns: int) -> list[tuple[str, str]]:
    """Lines with their style: severity and place on one of their own, what it is, the remedy."""
    place = ""
    if finding.x_mm is not None and finding.y_mm is not None:
        place = f"x {finding.x_mm:.2f}, y {finding.y_mm:.2f} mm"
    head = ", ".join(
        words for words in (finding.severity.value.title(), finding.shape, place) if words
    )
    # bold letters are wider
    heads = textwrap.wrap(printable(head), int(columns * 0.85), max_lines=1, placeholder=" …")
    what = printable(finding.what)
    what = what[:1].upper() + what[1:]
    told = [("told", line) for line in textwrap.wrap(what, columns)]
    told += [("soft", line) for line in textwrap.wrap(printable(finding.remedy), columns)]
    return [*(("head", line) for line in heads), *told]
