"""The letters of an SVG text, one by one, with what the elements around them say of their places.

White space is treated as CSS Text 3 and SVG 2 section 11.7 say; positions are gathered as SVG 2
section 11.5 does, step "resolve character positioning".
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from lxml import etree

from kerfwright.drawing.lettering.findings import short
from kerfwright.drawing.model import Paint
from kerfwright.drawing.svg.place import Place
from kerfwright.drawing.svg.style import StyleSheet
from kerfwright.drawing.svg.values import length, numbers
from kerfwright.drawing.svg.xml import href_of, local_name

_SPANS = frozenset(("tspan", "textPath", "a", "altGlyph", "tref"))

_SPACES = " \t\n\r\f"

PaintOf = Callable[[str, Mapping[str, str], Place], Paint]

_XML_SPACE = "{http://www.w3.org/XML/1998/namespace}space"


@dataclass(frozen=True, eq=False, slots=True)
class Span:
    """One element of a text, with its styles.

    ``raises`` are the baseline shifts of this element and those around it, from the outermost,
    each with its own place and the one around it;
    ``lines`` the decorations likewise, each with the span that asks for it.
    """

    element: etree._Element
    place: Place
    declared: Mapping[str, str]
    owner: Span | None
    """The element around it that has the same paint; ``None`` for its own."""
    raises: tuple[tuple[str, Place, Place], ...] = ()
    lines: tuple[tuple[str, Place], ...] = ()
    path: etree._Element | None = None
    keeps_spaces: bool = False

    @property
    def painted(self) -> Span:
        """The outermost span that is painted like this one."""
        return self if self.owner is None else self.owner


@dataclass(eq=False, slots=True)
class Letter:
    """A character that positions may be given for; ``None`` where they are not."""

    character: str
    span: Span
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    rotate_deg: float = 0.0
    begins_path: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """Letters ``first`` to ``last`` (excluded) that are to take up ``length`` (textLength)."""

    first: int
    last: int
    length: float
    glyphs_too: bool


@dataclass(eq=False, slots=True)
class TextTree:
    """All letters of a text element; ``asides`` are findings by slug and detail."""

    letters: list[Letter] = field(default_factory=list)
    stretches: list[Stretch] = field(default_factory=list)
    asides: list[tuple[str, str]] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The text as a short phrase for findings."""
        return short("".join(letter.character for letter in self.letters))


def text_tree(
    element: etree._Element,
    place: Place,
    *,
    styles: StyleSheet,
    by_id: Mapping[str, etree._Element],
    paint_of: PaintOf,
) -> TextTree:
    """Gather the letters of ``element``, whose own style is in ``place`` already."""
    gathering = _Gathering(styles, by_id, paint_of)
    declared = styles.declared(element)
    root = Span(element, place, declared, None)
    gathering.walk(gathering.inside(root, place))
    return gathering.tree()


class _Gathering:
    def __init__(
        self, styles: StyleSheet, by_id: Mapping[str, etree._Element], paint_of: PaintOf
    ) -> None:
        self._styles = styles
        self._by_id = by_id
        self._paint_of = paint_of
        self._raw: list[tuple[str, Span]] = []
        self._ranges: list[tuple[Span, int, int]] = []
        self._asides: list[tuple[str, str]] = []

    def walk(self, span: Span) -> None:
        """Gather an element's letters and those of the elements in it."""
        number = len(self._ranges)
        self._ranges.append((span, 0, 0))
        first = len(self._raw)
        element = span.element
        if local_name(element) == "tref":
            self._add(self._referred(element), span)
        else:
            self._add(element.text, span)
            for child in element:
                self._child(child, span)
                self._add(child.tail, span)
        self._ranges[number] = (span, first, len(self._raw))

    def _child(self, child: etree._Element, outer: Span) -> None:
        kind = local_name(child)
        if kind not in _SPANS:
            if kind not in {"title", "desc", "metadata", ""}:
                self._asides.append(("unknown-element", f"<{kind}> in a text"))
            return
        declared = self._styles.declared(child)
        if declared.get("display", "").lower() == "none":
            self._asides.append(("hidden", ""))
            return
        place = outer.place
        style = place.style.inherited(declared, place.measures)
        place = replace(place, style=style, measures=replace(place.measures, font=style.font))
        span = Span(
            child,
            place,
            declared,
            outer.painted,
            outer.raises,
            outer.lines,
            outer.path,
            outer.keeps_spaces,
        )
        if self._looks(declared, place) != self._looks(outer.declared, outer.place):
            span = replace(span, owner=None)
        if kind == "textPath":
            span = replace(span, path=child)
        self.walk(self.inside(span, outer.place))

    def _looks(self, declared: Mapping[str, str], place: Place) -> tuple[object, ...]:
        style = place.style
        return self._paint_of("text", declared, place), style.visible, style.opaque

    def inside(self, span: Span, around: Place) -> Span:
        """Return the span with what its own element adds for the letters in it."""
        declared = span.declared
        raised = declared.get("baseline-shift", "baseline").lower()
        if raised not in {"baseline", "0", "inherit", "initial", ""}:
            span = replace(span, raises=(*span.raises, (raised, span.place, around)))
        decoration = declared.get("text-decoration-line") or declared.get("text-decoration", "")
        for line in ("underline", "overline", "line-through"):
            if line in decoration.lower().split():
                span = replace(span, lines=(*span.lines, (line, span.place)))
        keeps = span.place.style.letters.keeps_spaces
        if keeps is None:
            own = span.element.get(_XML_SPACE) or next(
                (
                    outer.get(_XML_SPACE)
                    for outer in span.element.iterancestors("*")
                    if outer.get(_XML_SPACE)
                ),
                "default",
            )
            keeps = own == "preserve"
        return replace(span, keeps_spaces=keeps)

    def _referred(self, element: etree._Element) -> str:
        href = href_of(element)
        target = self._by_id.get(href.removeprefix("#"))
        if target is None:
            self._asides.append(("missing-reference", href or "no reference at all"))
            return ""
        return "".join(target.itertext())

    def _add(self, text: str | None, span: Span) -> None:
        if not text:
            return
        case = span.place.style.letters.case
        if case == "capitalize":
            text = _capitalised(text, self._raw[-1][0] if self._raw else " ")
        elif case != "none":
            text = text.upper() if case == "uppercase" else text.lower()
        self._raw += [(character, span) for character in text]

    def tree(self) -> TextTree:
        """Return the letters that are left of the white space, with their positions."""
        kept = list(_without_spare_spaces(self._raw))
        before = [0] * (len(self._raw) + 1)
        for index, _ in kept:
            before[index + 1] = 1
        for i in range(len(self._raw)):
            before[i + 1] += before[i]
        letters = [Letter(character, self._raw[index][1]) for index, character in kept]
        tree = TextTree(letters, asides=self._asides)
        for span, raw_first, raw_last in self._ranges:
            first, last = before[raw_first], before[raw_last]
            _place(letters[first:last], span)
        for span, raw_first, raw_last in reversed(self._ranges):
            first, last = before[raw_first], before[raw_last]
            wanted = span.element.get("textLength")
            if wanted and last > first:
                measures = span.place.measures
                tree.stretches.append(
                    Stretch(
                        first,
                        last,
                        length(wanted, measures, measures.width),
                        span.element.get("lengthAdjust") == "spacingAndGlyphs",
                    )
                )
        return tree


def _place(letters: list[Letter], span: Span) -> None:
    """Give letters the positions of an element; those of elements within it come later."""
    element, measures = span.element, span.place.measures
    sides = {"x": measures.width, "dx": measures.width, "y": measures.height, "dy": measures.height}
    for name, whole in sides.items():
        words = element.get(name, "").replace(",", " ").split()
        for letter, word in zip(letters, words, strict=False):
            setattr(letter, name, length(word, measures, whole))
    turns = numbers(element.get("rotate", "")) if element.get("rotate") else []
    for i, letter in enumerate(letters if turns else []):
        letter.rotate_deg = turns[min(i, len(turns) - 1)]
    if local_name(element) == "textPath" and letters:
        letters[0].begins_path = True


def _without_spare_spaces(raw: list[tuple[str, Span]]) -> Iterator[tuple[int, str]]:
    """Yield the letters that count, with their index; spaces that are not kept fall together."""
    after_space = True
    pending: tuple[int, str] | None = None
    for i, (character, span) in enumerate(raw):
        if character not in _SPACES or span.keeps_spaces:
            if pending is not None:
                yield pending
                pending = None
            yield i, " " if character in _SPACES else character
            after_space = character in _SPACES
        elif not after_space:
            pending, after_space = (i, " "), True


def _capitalised(text: str, before: str) -> str:
    out = []
    for character in text:
        out.append(character.title() if not (before.isalnum() or before in "'’") else character)
        before = character
    return "".join(out)
