"""What reading an SVG has to tell."""

from __future__ import annotations

from kerfwright.drawing import tally
from kerfwright.drawing.lettering.findings import TEXT_KINDS
from kerfwright.drawing.tally import Kind
from kerfwright.findings import Severity

KINDS = TEXT_KINDS | {
    "text": Kind(
        Severity.STOP,
        "text is",
        "texts are",
        "In the drawing program turn text into outlines (paths) and save again.",
        rest="not outlines and cannot be read as lines",
        singly=True,
    ),
    "text-too-long": Kind(
        Severity.STOP,
        "text is",
        "texts are",
        "Shorten it in the table, give it more room_mm, or allow a smaller least_text_mm.",
        rest="too long for its room",
        singly=True,
    ),
    "image": Kind(
        Severity.WARN,
        "picture is",
        "pictures are",
        "Put the picture into the drawing's file or its folder, or take it out if it was only a "
        "template.",
        rest="left out, as it cannot be read",
    ),
    "clip-path": Kind(
        Severity.WARN,
        "clip is",
        "clips are",
        "Cut the shapes themselves along the clip (intersect them) and remove the clip.",
        rest="not applied in full: what it hides on screen may be read",
    ),
    "clipped": Kind(
        Severity.NOTE,
        "shape is",
        "shapes are",
        "Nothing to do, unless more or less than this should be burned.",
        rest="cut along the edge of a clip or mask; only what shows is read",
    ),
    "clipped-away": Kind(
        Severity.NOTE,
        "shape lies",
        "shapes lie",
        "Nothing to do, unless something is missing; then release the clip or enlarge the frame.",
        rest="outside its clip, mask or frame, does not show and is left out",
    ),
    "clipped-edge": Kind(
        Severity.WARN,
        "filled shape with a line was",
        "filled shapes with a line were",
        "If the line is to be burned, draw it as a shape of its own, without fill, and open where "
        "it ends.",
        rest="cut by a clip: the edge of the area now follows the clip, where no line is drawn",
    ),
    "mask": Kind(
        Severity.WARN,
        "mask is",
        "masks are",
        "Cut the shapes themselves along the mask and remove the mask.",
        rest="not applied, as only masks of plain black and white areas are: what the mask hides "
        "is read as well",
    ),
    "filter": Kind(
        Severity.WARN,
        "filter is",
        "filters are",
        "Remove the filter, or draw what is to be burned.",
        rest="not applied: a beam cannot burn blurs and shadows, the plain shapes are read",
    ),
    "marker": Kind(
        Severity.NOTE,
        "mark on a line is",
        "marks on lines are",
        "Remove them from the line if they are not to be burned.",
        rest="read like any other shape (arrow heads and the like)",
    ),
    "dashes": Kind(
        Severity.NOTE,
        "dashed line is",
        "dashed lines are",
        "If it is to be burned unbroken, take the dashes off the line.",
        rest="read as separate dashes",
    ),
    "dashes-unbroken": Kind(
        Severity.WARN,
        "dashed line is",
        "dashed lines are",
        "If the dashes are to be burned one by one, turn the line into separate dashes.",
        rest="read as unbroken",
    ),
    "bad-outline": Kind(
        Severity.WARN,
        "shape is",
        "shapes are",
        "Look at the shape in the drawing program, draw it again and save.",
        rest="damaged; what stands before the damage is read, the rest is not",
    ),
    "missing-reference": Kind(
        Severity.WARN,
        "reference leads",
        "references lead",
        "Put back what the file refers to, or delete the reference.",
        rest="to nothing in the file",
    ),
    "external-reference": Kind(
        Severity.WARN,
        "reference leads",
        "references lead",
        "Put the referred drawing into this file.",
        rest="to another file, which is not opened",
    ),
    "copy-of-itself": Kind(
        Severity.WARN,
        "copy contains",
        "copies contain",
        "Unlink the copy in the drawing program.",
        rest="itself, and is left out",
    ),
    "style-not-understood": Kind(
        Severity.WARN,
        "style rule is",
        "style rules are",
        "Check fill and stroke of the shapes, or save as plain SVG with attributes.",
        rest="not understood and not applied",
    ),
    "unknown-colour": Kind(
        Severity.WARN,
        "colour is",
        "colours are",
        "Give the shape a plain fill and stroke colour.",
        rest="not understood; the shape takes the colour of what it stands in",
    ),
    "unknown-element": Kind(
        Severity.WARN,
        "element is",
        "elements are",
        "Turn it into outlines, or delete it if it does not belong to the work.",
        rest="not of a kind that is read",
    ),
    "animation": Kind(
        Severity.NOTE,
        "animation or script is",
        "animations or scripts are",
        "Remove it if the drawing looks different in a browser.",
        rest="ignored: the drawing is read as it stands at the start",
    ),
    "outside-viewport": Kind(
        Severity.NOTE,
        "shape reaches",
        "shapes reach",
        "Nothing to do, unless more than this should be burned; then let the frame overflow.",
        rest="beyond the frame of its nested drawing or symbol and is cut along it, as on screen",
    ),
    "outside-page": Kind(
        Severity.NOTE,
        "shape reaches",
        "shapes reach",
        "Delete what was only laid aside.",
        rest="beyond the page; it is read like any other",
    ),
    "no-length": Kind(
        Severity.NOTE,
        "line or shape has",
        "lines or shapes have",
        "Nothing to do, unless something is missing.",
        rest="no length or no area and is left out",
    ),
    "unpainted": Kind(
        Severity.NOTE,
        "shape has",
        "shapes have",
        "Give it a fill or a stroke if it belongs to the work.",
        rest="neither fill nor stroke and is left out",
    ),
    "hidden": Kind(
        Severity.NOTE,
        "hidden element is",
        "hidden elements are",
        "Show the layer or object in the drawing program if it belongs to the work.",
        rest="left out",
    ),
    "assumed-scale": Kind(
        Severity.WARN,
        "page size says",
        "page sizes say",
        "Check the sizes with kerfwright inspect. Set the page size in mm in the drawing program.",
        rest="no unit of length, so 96 px are taken as an inch",
    ),
}


class SvgTally(tally.Tally):
    """Cases by slug, named by their shapes."""

    def __init__(self) -> None:
        super().__init__(KINDS)

    def take_warnings(self, aside: SvgTally) -> None:
        """Add what was met in something drawn aside, as far as it asks for a look."""
        for slug, cases in aside._cases.items():
            if KINDS[slug].severity is not Severity.NOTE:
                self._cases[slug] += [case for case in cases if case not in self._cases[slug]]
