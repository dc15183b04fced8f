"""Reads a drawing of any known kind."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from kerfwright.drawing.content import Content, content_of, head_of
from kerfwright.drawing.copies import Copy, no_gaps_in
from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM
from kerfwright.shop.order import PictureWay

ENDINGS = {
    ".svg": Content.SVG,
    ".svgz": Content.SVG,
    ".dxf": Content.DXF,
    ".pdf": Content.PDF,
    **dict.fromkeys(
        (".png", ".jpg", ".jpeg", ".bmp", ".gif", ".tif", ".tiff", ".webp"), Content.PICTURE
    ),
}
"""What can be read, by the ending of the file's name."""

_ELSEWHERE = {
    Content.DWG: "Save it as DXF in the drawing program.",
    Content.PACKED: "Unpack it and name the drawing that is inside.",
}


@dataclass(frozen=True, slots=True)
class Choice:
    """What an order chooses of a file: a PDF's page from 1, a picture file's width, pictures.

    ``copy`` has the words that belong into the gaps of an SVG drawing.
    """

    page: int | None = None
    width_mm: float | None = None
    pictures: PictureWay = "photo"
    copy: Copy | None = None


def read_drawing(
    path: Path | str,
    chord_mm: float = CHORD_MM,
    unit_mm: float | None = None,
    choice: Choice | None = None,
) -> Drawing:
    """Read a drawing file, its kind chosen by the ending and checked by the content.

    Curves are flattened within ``chord_mm``. ``unit_mm`` is the length of a DXF drawing's unit
    where the order states it; an SVG has its own. By default the only page of a PDF is read, a
    picture file in the size that it states, and pictures are handed on as they are.

    Raises:
        KerfwrightError: the file cannot be opened or worked with, its ending is not known, or
            its content is of another kind than its ending says.
    """
    path = Path(path)
    expected = kind_of(path)
    choice = choice or Choice()
    if choice.copy is not None and expected is not Content.SVG:
        raise no_gaps_in(path)
    if expected is Content.DXF:
        from kerfwright.drawing.dxf.read import read_dxf  # noqa: PLC0415 (ezdxf takes long to load)

        drawing = read_dxf(path, chord_mm, unit_mm)
    elif expected is Content.PDF:
        from kerfwright.drawing.pdf.read import read_pdf  # noqa: PLC0415

        drawing = read_pdf(path, chord_mm, choice.page)
    elif expected is Content.PICTURE:
        from kerfwright.drawing.pictures.read import read_picture_file  # noqa: PLC0415

        drawing = read_picture_file(path, choice.width_mm)
    else:
        from kerfwright.drawing.svg.read import read_svg  # noqa: PLC0415

        drawing = read_svg(path, chord_mm, choice.copy)
    if not drawing.pictures or choice.pictures == "photo":
        return drawing
    from kerfwright.drawing.pictures.trace import pictures_as  # noqa: PLC0415

    return pictures_as(drawing, choice.pictures)


def kind_of(path: Path) -> Content:
    """Tell the kind of a drawing file by its ending, and see that its content is of that kind.

    Raises:
        KerfwrightError: the ending is not known, or the content is of another kind.
    """
    expected = ENDINGS.get(path.suffix.lower())
    content = content_of(head_of(path))
    if expected is None:
        raise _unknown_ending(path, content)
    if content in _ELSEWHERE and not (content is Content.PACKED and path.suffix.lower() == ".svgz"):
        raise _not_what_it_says(path, content, _ELSEWHERE[content])
    if content in ENDINGS.values() and content is not expected:
        raise _not_what_it_says(path, content, f"Give its name the ending {_ending_of(content)}.")
    return expected


def _ending_of(content: Content) -> str:
    if content is Content.PICTURE:
        return 'of its kind, such as ".png" or ".jpg"'
    return next(f'"{ending}"' for ending, kind in ENDINGS.items() if kind is content)


def _unknown_ending(path: Path, content: Content) -> KerfwrightError:
    endings = " and ".join((", ".join([*ENDINGS][:-1]), [*ENDINGS][-1]))
    thing = (
        f'The ending "{path.suffix}" is not one of a drawing that can be read.'
        if path.suffix
        else "The name has no ending that says what kind of drawing it is."
    )
    remedy = f"Files with the endings {endings} can be read."
    if content in ENDINGS.values():
        remedy += f" This is {content}: give its name the ending {_ending_of(content)}."
    elif content in _ELSEWHERE:
        remedy += f" This is {content}. {_ELSEWHERE[content]}"
    return KerfwrightError("drawing/unknown-ending", file=str(path), thing=thing, remedy=remedy)


def _not_what_it_says(path: Path, content: Content, remedy: str) -> KerfwrightError:
    return KerfwrightError(
        "drawing/not-what-it-says",
        file=str(path),
        thing=f'The name ends in "{path.suffix}", but the file is {content}.',
        remedy=remedy,
    )
