"""Which fonts the parts of an SVG text are set in, and how far they stand off the baseline."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kerfwright.drawing.lettering.font_choice import Choice, NoFontError, choices
from kerfwright.drawing.lettering.fonts import Fonts, Wanted
from kerfwright.drawing.lettering.setting import Metrics, SetFont, Setting, bar, moved
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.drawing.svg.text_layout import Placed
from kerfwright.drawing.svg.text_style import TextStyle
from kerfwright.drawing.svg.text_tree import Span
from kerfwright.drawing.svg.values import BadValueError, length

_LIGATURES = ("liga", "clig")

_SEAM = 1e-6
"""Underlines of neighbouring letters that meet this closely, in em, are one."""


Chosen = dict[TextStyle, tuple[Choice, ...]]


class SpanFonts:
    """The fonts of one text, by the styles of its spans; ``words`` name it in findings.

    ``chosen`` keeps what was found from one text to the next.
    """

    def __init__(self, fonts: Fonts, words: str, chosen: Chosen) -> None:
        self._fonts = fonts
        self._words = words
        self._chosen = chosen

    def setting(self, span: Span) -> Setting:
        """Return how a span's letters are set.

        Raises:
            UnsetTextError: the span's font is missing.
        """
        style, size = span.place.style.letters, span.place.style.font
        fonts = tuple(choice.font for choice in self._choices(span))
        features = []
        if not style.kerning:
            features.append(("kern", False))
        # letters that are spaced out are not joined (CSS Text 3, section 7.2)
        if not style.ligatures or style.letter_spacing != 0.0:
            features += [(tag, False) for tag in _LIGATURES]
        if style.small_caps:
            features.append(("smcp", True))
        return Setting(fonts, size, tuple(features))

    def told(self, span: Span, font: SetFont) -> str:
        """Say what is not as asked for where a span is set in ``font``, "" if all is."""
        told = next((c.instead for c in self._choices(span) if c.font is font), "")
        if not told and span.place.style.letters.small_caps and "smcp" not in font.features:
            return f"{font.face.label} has no small capitals"
        return told

    def raised(self, span: Span) -> float:
        """How far a span's letters stand above the line, in user units."""
        style = span.place.style
        up = -self._baseline(span) * style.font
        for value, own, outer in span.raises:
            if value in {"sub", "super"}:
                metrics = self._metrics(span)
                shift = -metrics.subscript if value == "sub" else metrics.superscript
                up += shift * outer.style.font
            else:
                try:
                    up += length(value, own.measures, own.style.font)
                except BadValueError:
                    continue
        return up

    def _baseline(self, span: Span) -> float:
        """Height of the baseline that the letters are aligned by, in em (CSS Inline 3)."""
        aligned = span.declared.get("alignment-baseline", "baseline").lower()
        named = span.place.style.letters.baseline
        if aligned not in {"baseline", "auto", "alphabetic", "inherit", ""}:
            named = aligned
        if named in {"auto", "alphabetic"}:
            return 0.0
        metrics = self._metrics(span)
        heights = {
            "middle": metrics.x_height / 2.0,
            "central": (metrics.ascent - metrics.descent) / 2.0,
            "hanging": 0.8 * metrics.ascent,
            "mathematical": 0.5 * metrics.ascent,
        }
        heights |= dict.fromkeys(("text-before-edge", "text-top", "before-edge"), metrics.ascent)
        low = ("text-after-edge", "text-bottom", "after-edge", "ideographic")
        heights |= dict.fromkeys(low, -metrics.descent)
        return heights.get(named, 0.0)

    def _metrics(self, span: Span) -> Metrics:
        return self._choices(span)[0].font.metrics

    def _choices(self, span: Span) -> tuple[Choice, ...]:
        style = span.place.style.letters
        found = self._chosen.get(style)
        if found is None:
            wanted = Wanted(style.weight, style.stretch_percent, style.slope)
            try:
                found = self._chosen[style] = choices(self._fonts, style.families, wanted)
            except NoFontError as fault:
                raise fault.unset(self._words) from None
        return found


def lines_of(placed: Sequence[Placed]) -> Iterator[Outline]:
    """Yield the underlines and other lines of letters, drawn as bars as thick as the font says."""
    start = 0
    for i in range(1, len(placed) + 1):
        if i < len(placed) and _goes_on(placed[i - 1], placed[i]):
            continue
        first, last = placed[start], placed[i - 1]
        start = i
        if first.hidden:
            continue
        metrics = first.cluster.font.metrics
        length_em = (last.right - first.x) / (first.size * first.stretch)
        for line, place in first.letter.span.lines:
            share = place.style.font / first.size
            height = {"underline": metrics.underline, "overline": metrics.ascent}.get(
                line, metrics.strike
            )
            thickness = metrics.line_thickness * share
            drawn = bar(0.0, length_em, height * share, thickness, ccw=first.cluster.font.runs_ccw)
            yield moved(drawn, first.to_user)


def _goes_on(before: Placed, after: Placed) -> bool:
    return (
        before.letter.span.lines == after.letter.span.lines
        and before.turn_deg == after.turn_deg == 0.0
        and before.y == after.y
        and before.size == after.size
        and before.stretch == after.stretch
        and before.cluster.font is after.cluster.font
        and abs(before.right - after.x) <= _SEAM * before.size
    )
