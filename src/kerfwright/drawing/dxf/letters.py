"""A line of DXF text as outlines in em, as drawing programs set it."""

from __future__ import annotations

from dataclasses import dataclass, field

from kerfwright.drawing.lettering.font_choice import Choice, refuse_missing
from kerfwright.drawing.lettering.setting import Metrics, Setting, set_line
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.geometry.affine import translation

# Letters stand one behind another without kerning and are not joined (common practice, no source).
_PLAIN = (("kern", False), ("liga", False), ("clig", False))


@dataclass(frozen=True, eq=False, slots=True)
class SetLine:
    """A line of text from the pen at 0, in em, y upwards; ``left`` to ``right`` is its ink."""

    outlines: list[Outline]
    advance: float
    left: float
    right: float
    metrics: Metrics
    runs_ccw: bool


@dataclass(slots=True)
class Lettering:
    """What is being set for one entity: the fonts it takes, and its outlines by colour.

    Outlines are in the entity's own plane; a colour of ``None`` is the entity's own.
    """

    words: str
    areas: dict[object, list[Outline]] = field(default_factory=dict)
    choices: dict[Choice, None] = field(default_factory=dict)

    def line(self, text: str, choice: Choice, tracking: float = 1.0) -> SetLine:
        """Set a line of text; ``tracking`` is a factor on the advance of every letter.

        Raises:
            UnsetTextError: the font lacks some of the characters.
        """
        clusters = set_line(text, [Setting((choice.font,), 1.0, _PLAIN)] * len(text))
        refuse_missing(clusters, self.words)
        self.choices[choice] = None
        pen, outlines, edges = 0.0, [], []
        for cluster in clusters:
            outlines += cluster.drawn(translation(pen, 0.0))
            for glyph, x, _ in cluster.glyphs:
                ink = choice.font.ink(glyph)
                if ink is not None:
                    edges += [pen + x + ink[0], pen + x + ink[1]]
            pen += cluster.advance * tracking
        edges = edges or [0.0, pen]
        font = choice.font
        return SetLine(outlines, pen, min(edges), max(edges), font.metrics, font.runs_ccw)

    def add(self, outlines: list[Outline], colour: object = None) -> None:
        """Add outlines in the entity's plane."""
        self.areas.setdefault(colour, []).extend(outlines)
