"""What reading a PDF has to tell."""

from __future__ import annotations

from kerfwright.drawing import tally
from kerfwright.drawing.tally import Kind
from kerfwright.findings import Severity

KINDS = {
    "pdf-text": Kind(
        Severity.STOP,
        "text cannot",
        "texts cannot",
        "Turn the text into outlines (paths) in the program that made the file, and save again.",
        rest="be read as lines: its letters have no outlines and do not show",
        singly=True,
    ),
    "pdf-text-traced": Kind(
        Severity.WARN,
        "text is",
        "texts are",
        "Look at the letters. To be sure of them, ask for the text as outlines.",
        rest="traced from the page as it is drawn: its font does not say which outline belongs to "
        "which letter",
    ),
    "pdf-font": Kind(
        Severity.WARN,
        "font is",
        "fonts are",
        "Look at the letters. To be sure of them, ask for the text as outlines, or for a PDF with "
        "its fonts inside.",
        rest="not in the file; letters of a font like it are read instead",
    ),
    "pdf-text-clip": Kind(
        Severity.STOP,
        "text is",
        "texts are",
        "Turn the text into outlines and intersect it with what it cuts off, then save again.",
        rest="used to cut off what is drawn after it, which cannot be followed",
    ),
    "pdf-mask": Kind(
        Severity.WARN,
        "object is",
        "objects are",
        "Look at the result; to be sure, flatten the transparency in the program that made the "
        "file.",
        rest="drawn through a mask or blended with what lies below; it is read as if it were not",
    ),
    "pdf-shading": Kind(
        Severity.WARN,
        "shading covers",
        "shadings cover",
        "Draw the area that is to be burned.",
        rest="the whole page and is left out",
    ),
    "pdf-unknown-object": Kind(
        Severity.WARN,
        "object is",
        "objects are",
        "Turn it into outlines, or delete it.",
        rest="not of a kind that is read",
    ),
    "pdf-picture-unreadable": Kind(
        Severity.WARN,
        "picture cannot",
        "pictures cannot",
        "Ask for the picture as a file of its own.",
        rest="be read and is left out",
    ),
    "pdf-unread": Kind(
        Severity.WARN,
        "place on the page shows",
        "places on the page show",
        "Look there. Turn what is drawn there into plain outlines and save again.",
        rest="something that was not read",
    ),
    "pdf-unseen": Kind(
        Severity.WARN,
        "place was read",
        "places were read",
        "Look there. Delete what is hidden there, or flatten the masks in the program that made "
        "the file.",
        rest="where the page shows nothing: a mask may hide it",
    ),
    "pdf-annotations": Kind(
        Severity.WARN,
        "note, stamp or form field lies",
        "notes, stamps or form fields lie",
        "Make them part of the page (flatten the file) if they belong to the work.",
        rest="over the page and is not read",
    ),
    "pdf-other-pages": Kind(
        Severity.NOTE,
        "other page of the document is",
        "other pages of the document are",
        "Give each page that is wanted an item of its own with its page.",
        rest="not read",
    ),
    "pdf-dashes": Kind(
        Severity.WARN,
        "dashed line is",
        "dashed lines are",
        "Turn the line into separate dashes if they are to be burned one by one.",
        rest="read as unbroken: it has too many dashes, or dots of no length",
    ),
    "pdf-off-page": Kind(
        Severity.WARN,
        "object lies",
        "objects lie",
        "Enlarge the page (its crop box) if it belongs to the work.",
        rest="wholly outside the visible page and is left out",
    ),
    "outside-page": Kind(
        Severity.WARN,
        "shape reaches",
        "shapes reach",
        "Cut the shape along the page's edge if only the visible part is wanted.",
        rest="beyond the visible page; all of it is read",
    ),
    "clipped": Kind(
        Severity.NOTE,
        "shape is",
        "shapes are",
        "Nothing to do, unless something is missing.",
        rest="cut along the edge of a clip; only what shows is read",
    ),
    "clipped-away": Kind(
        Severity.NOTE,
        "shape lies",
        "shapes lie",
        "Nothing to do, unless something is missing.",
        rest="outside its clip, does not show and is left out",
    ),
    "no-length": Kind(
        Severity.NOTE,
        "line or shape has",
        "lines or shapes have",
        "Nothing to do, unless something is missing.",
        rest="no length or no area and is left out",
    ),
    "hidden": Kind(
        Severity.NOTE,
        "hidden object is",
        "hidden objects are",
        "Show the layer or object if it belongs to the work, and save again.",
        rest="left out",
    ),
}

TOLD_UNREAD = (
    *("pdf-text", "pdf-text-clip", "pdf-shading", "pdf-unknown-object"),
    *("pdf-picture-unreadable", "no-length"),
)
"""What explains that something shows on the page and was not read."""

TOLD_UNSEEN = ("pdf-mask", "pdf-text-clip")
"""What explains that something was read and does not show."""


class PdfTally(tally.Tally):
    """Cases by slug, named by their shapes."""

    def __init__(self) -> None:
        super().__init__(KINDS)
