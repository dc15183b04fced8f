"""What setting text has to tell, whatever kind of drawing it stands in."""

from __future__ import annotations

from kerfwright.drawing.tally import Kind
from kerfwright.findings import Severity


class UnsetTextError(ValueError):
    """A text that cannot be set; ``slug`` and ``detail`` are those of the finding to tell."""

    def __init__(self, slug: str, detail: str) -> None:
        super().__init__(detail)
        self.slug = slug
        self.detail = detail


def short(text: str) -> str:
    """Return a text as a phrase that fits into a finding."""
    words = " ".join(text.encode("utf-8", "replace").decode("utf-8").split())
    return words if len(words) <= 40 else f"{words[:37]}..."


_FONT_REMEDY = (
    "Put the font's file (.ttf or .otf) beside the drawing, or turn the text into outlines in "
    "the drawing program and save again."
)

TEXT_KINDS = {
    "font-missing": Kind(
        Severity.STOP,
        "text is not set: its font is not on this computer and not beside the drawing",
        "texts are not set: their fonts are not on this computer and not beside the drawing",
        _FONT_REMEDY,
        singly=True,
    ),
    "no-glyph": Kind(
        Severity.STOP,
        "text is not set: its font lacks some of its characters",
        "texts are not set: their fonts lack some of their characters",
        "Take another font, put one that has the characters beside the drawing, or turn the text "
        "into outlines in the drawing program and save again.",
        singly=True,
    ),
    "font-taken": Kind(
        Severity.WARN,
        "text is set in another font than asked for, or names no certain one",
        "texts are set in another font than asked for, or name no certain one",
        "Look at the letters in the picture. " + _FONT_REMEDY,
    ),
    "font-damaged": Kind(
        Severity.WARN,
        "font file beside the drawing cannot be read",
        "font files beside the drawing cannot be read",
        "Copy the font's file again, or take it away if it is not needed.",
    ),
    "text-off-path": Kind(
        Severity.WARN,
        "letter lies beyond the end of the line its text follows, and is left out",
        "letters lie beyond the ends of the lines their texts follow, and are left out",
        "Make the text smaller or the line longer, so that all of it shows.",
    ),
    "text-set": Kind(
        Severity.NOTE,
        "text is turned into outlines with a font that was found",
        "texts are turned into outlines with fonts that were found",
        "Nothing to do. Check the letters in the picture if the font may differ from yours.",
    ),
}
"""Kinds of findings by slug, for every reader's tally."""
