"""Fills the gaps of a drawing: fields such as {name} in its text, places for its codes.

A place for a code is a shape or a group called ``qr:{link}`` or ``datamatrix:{serial}``, by its
id or label: the code is as large as the largest square in the shape's box, quiet zone included.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from lxml import etree

from kerfwright.drawing.codes import NAMES, Code, CodeError, CodeKind, code_of
from kerfwright.drawing.copies import Copy, Room
from kerfwright.drawing.svg.geometry import SHAPES, flattened, outlines_of
from kerfwright.drawing.svg.layers import Layer
from kerfwright.drawing.svg.values import BadValueError, Measures
from kerfwright.drawing.svg.xml import local_name
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.regions import rings_of
from kerfwright.shop.batch_rows import Field, fields_in, filled_in, require_columns

_CODE = re.compile(r"(qr|datamatrix):(.+)", re.DOTALL | re.IGNORECASE)

_ROUGH = 0.1
"""In user units: only the box of a code's place matters."""

_DECIMALS = 6


def fields_of(root: etree._Element, file: str) -> tuple[Field, ...]:
    """Every field of a drawing, in the order of the file.

    Raises:
        KerfwrightError: ``batch/field-unclear``, ``batch/no-fields``.
    """
    texts = list(_texts(root))
    pieces = [words for text in texts for words, *_ in _nodes(text)]
    in_pieces = [field for piece in pieces for field in _fields(piece, file)]
    in_texts = [field for text in texts for field in _fields(_words(text), file)]
    if len(in_texts) != len(in_pieces):
        raise _unclear(file, "a field is divided by a change of style within it")
    in_codes = [field for _, _, template in _places(root) for field in _fields(template, file)]
    found = [*in_texts, *in_codes]
    if not found:
        raise KerfwrightError(
            "batch/no-fields",
            file=file,
            thing="the item has a batch, and nothing in the drawing differs from copy to copy.",
            remedy="Write a heading of the table in braces into a text, such as {name}, or call a "
            "rectangle qr:{link}.",
        )
    return tuple(dict.fromkeys(found))


def fill_gaps(root: etree._Element, copy: Copy, file: str) -> dict[etree._Element, Room]:
    """Write a row's words into the drawing, and its codes; return how wide texts may be.

    Raises:
        KerfwrightError: ``batch/column-missing``, ``batch/code-cannot-hold``,
            ``batch/code-place``, or what :func:`fields_of` raises.
    """
    require_columns((copy.row,), fields_of(root, file), copy.table)
    rooms: dict[etree._Element, Room] = {}
    for element in _texts(root):
        names = {field.name for field in _fields(_words(element), file)}
        widths = [copy.batch.room_mm[name] for name in names & copy.batch.room_mm.keys()]
        if widths:
            rooms[element] = Room(min(widths), copy.batch.least_text_mm)
        for words, node, is_tail in list(_nodes(element)):
            filled = filled_in(words, copy.row)
            if is_tail:
                node.tail = filled
            else:
                node.text = filled
    for element, kind, template in list(_places(root)):
        text = filled_in(template, copy.row)
        _replace(element, _code(kind, text, copy), copy, file)
    return rooms


def _texts(root: etree._Element) -> Iterator[etree._Element]:
    return (element for element in root.iter("*") if local_name(element) == "text")


def _nodes(text: etree._Element) -> Iterator[tuple[str, etree._Element, bool]]:
    """Pieces of a text: their words, the element, and whether they stand behind it."""
    for element in text.iter("*"):
        if element.text:
            yield element.text, element, False
        if element is not text and element.tail:
            yield element.tail, element, True


def _words(text: etree._Element) -> str:
    return "".join(text.itertext())


def _fields(words: str, file: str) -> list[Field]:
    try:
        return [field for _, field in fields_in(words) if field is not None]
    except ValueError as fault:
        raise _unclear(file, f'"{" ".join(words.split())[:40]}" ({fault})') from None


def _places(root: etree._Element) -> Iterator[tuple[etree._Element, CodeKind, str]]:
    """Shapes that are places for codes: by their own name, or that of a group around them."""
    named: dict[etree._Element, re.Match[str]] = {}
    for element in root.iter("*"):
        found = _CODE.fullmatch(Layer().inside(element).name)
        parent = element.getparent()
        match = found or (named.get(parent) if parent is not None else None)
        if match is None:
            continue
        named[element] = match
        if local_name(element) in SHAPES:
            kind: CodeKind = "qr" if match[1].lower() == "qr" else "datamatrix"
            yield element, kind, match[2]


def _code(kind: CodeKind, text: str, copy: Copy) -> Code:
    try:
        return code_of(kind, text, error_correction=copy.batch.error_correction)
    except CodeError as fault:
        raise KerfwrightError(
            "batch/code-cannot-hold",
            file=str(copy.table),
            thing=f"row {copy.row.number}: there can be no {NAMES[kind]} of it: {fault}.",
            remedy="Correct the row, shorten the text, or take a QR code for other letters.",
        ) from None


def _replace(element: etree._Element, code: Code, copy: Copy, file: str) -> None:
    """Put the code's areas where its place is drawn."""
    x, y, side = _square_in(element, file)
    module = side / code.across
    to_user = Affine(a=module, d=module, e=x, f=y)
    data = []
    for ring in rings_of(code.area(burned=copy.batch.codes)):
        points = " ".join(
            f"{px:.{_DECIMALS}f},{py:.{_DECIMALS}f}" for px, py in to_user.apply(ring).tolist()
        )
        data.append(f"M{points}z")
    drawn = etree.Element(_sibling(element, "path"))
    drawn.set("d", " ".join(data))
    # a style sheet would overrule attributes
    drawn.set("style", "fill:#000000;fill-opacity:1;fill-rule:evenodd;stroke:none;opacity:1")
    for kept in ("id", "transform", "display", "visibility"):
        if element.get(kept) is not None:
            drawn.set(kept, element.get(kept))
    drawn.tail = element.tail
    parent = element.getparent()
    assert parent is not None
    parent.replace(element, drawn)


def _square_in(element: etree._Element, file: str) -> tuple[float, float, float]:
    """Left, top and side of the largest square in the middle of a shape's box, in user units."""
    try:
        # a place that is given in shares of the page has no box here, and is refused
        outlines, _ = outlines_of(local_name(element), element, Measures(0.0, 0.0))
        lines, _ = flattened(outlines, Affine(), _ROUGH)
    except BadValueError:
        lines = ()
    points = np.concatenate([line.points for line in lines] or [np.zeros((1, 2))])
    low, high = points.min(axis=0), points.max(axis=0)
    side = float((high - low).min())
    if side <= 0.0:
        raise KerfwrightError(
            "batch/code-place",
            file=file,
            thing=f"the place of a code in line {element.sourceline} has no area.",
            remedy="Draw it as a rectangle with its width and height in numbers.",
        )
    left, top = ((low + high - side) / 2.0).tolist()
    return left, top, side


def _sibling(element: etree._Element, name: str) -> str:
    namespace = etree.QName(element).namespace
    return name if namespace is None else f"{{{namespace}}}{name}"


def _unclear(file: str, what: str) -> KerfwrightError:
    return KerfwrightError(
        "batch/field-unclear",
        file=file,
        thing=f"it is not clear what is to be filled in: {what}.",
        remedy="Write fields as {name} or {n:04d}, in one style each, and a plain brace twice: {{.",
    )
