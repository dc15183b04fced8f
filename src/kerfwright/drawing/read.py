"""Reads a drawing of any known kind."""

from __future__ import annotations

from pathlib import Path

from kerfwright.drawing.content import Content, content_of, head_of
from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM

ENDINGS = {".svg": Content.SVG, ".svgz": Content.SVG, ".dxf": Content.DXF}
"""What can be read, by the ending of the file's name."""

_ELSEWHERE = {
    Content.DWG: "Save it as DXF in the drawing program.",
    Content.PDF: "Open it in a drawing program and save it as SVG or DXF.",
    Content.PICTURE: "Trace it into outlines in a drawing program and save it as SVG or DXF.",
    Content.PACKED: "Unpack it and name the drawing that is inside.",
}


def read_drawing(
    path: Path | str, chord_mm: float = CHORD_MM, unit_mm: float | None = None
) -> Drawing:
    """Read a drawing file, its kind chosen by the ending and checked by the content.

    Curves are flattened within ``chord_mm``. ``unit_mm`` is the length of a DXF drawing's unit
    where the order states it; an SVG has its own.

    Raises:
        KerfwrightError: the file cannot be opened or worked with, its ending is not known, or
            its content is of another kind than its ending says.
    """
    path = Path(path)
    expected = ENDINGS.get(path.suffix.lower())
    content = content_of(head_of(path))
    if expected is None:
        raise _unknown_ending(path, content)
    if content in _ELSEWHERE and not (content is Content.PACKED and path.suffix.lower() == ".svgz"):
        raise _not_what_it_says(path, content, _ELSEWHERE[content])
    if content in (Content.SVG, Content.DXF) and content is not expected:
        ending = next(ending for ending, kind in ENDINGS.items() if kind is content)
        raise _not_what_it_says(path, content, f'Give its name the ending "{ending}".')
    if expected is Content.DXF:
        from kerfwright.drawing.dxf import read_dxf  # noqa: PLC0415 (ezdxf takes long to load)

        return read_dxf(path, chord_mm, unit_mm)
    from kerfwright.drawing.svg import read_svg  # noqa: PLC0415

    return read_svg(path, chord_mm)


def _unknown_ending(path: Path, content: Content) -> KerfwrightError:
    endings = " and ".join((", ".join([*ENDINGS][:-1]), [*ENDINGS][-1]))
    thing = (
        f'The ending "{path.suffix}" is not one of a drawing that can be read.'
        if path.suffix
        else "The name has no ending that says what kind of drawing it is."
    )
    remedy = f"Files with the endings {endings} can be read."
    if content in (Content.SVG, Content.DXF):
        ending = next(ending for ending, kind in ENDINGS.items() if kind is content)
        remedy += f' This is {content}: give its name the ending "{ending}".'
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
