"""A sheet's layout as SVG in true millimetres, for machines driven by their own software."""

from __future__ import annotations

from collections.abc import Iterable

from shapely import Polygon

from kerfwright.engraving.stamp import drawn_areas
from kerfwright.geometry.regions import rings_of
from kerfwright.output import path_data
from kerfwright.output.kept_free import kept_free
from kerfwright.output.photo_picture import svg_dots, svg_use
from kerfwright.output.text import short_number, xml_text
from kerfwright.parts.model import Part
from kerfwright.plan import PlannedSheet
from kerfwright.toolpath import Process

DECIMALS = 3
"""A thousandth of a millimetre, below any machine's step."""

SHEET_GROUP = "sheet-guide"
"""The sheet's edge; the name says that it is not to be burned."""

ABOUT = (
    "Units are millimetres. All parts are drawn on size: lines are not moved outwards or inwards "
    "for the width of the beam, so set the kerf in the software that drives the machine. One "
    "group for each process: engrave (filled areas, even-odd), score (lines), cut (lines). The "
    "group sheet-guide shows the edge of the sheet and what is kept free on it, and is not to be "
    "burned. An edge that two touching parts share is drawn once for each."
)

_STYLES = {
    Process.ENGRAVE: 'fill="#000" fill-rule="evenodd" stroke="none"',
    Process.SCORE: 'fill="none" stroke="#555" stroke-width="0.1"',
    Process.CUT: 'fill="none" stroke="#000" stroke-width="0.1"',
}


def layout_svg(sheet: PlannedSheet) -> str:
    """Return the layout of a sheet as an SVG document, parts on size, in the order of burning."""
    width, height = sheet.sheet.width_mm, sheet.sheet.height_mm
    wide, high = short_number(width, DECIMALS), short_number(height, DECIMALS)
    title = f"Sheet {sheet.number}: {sheet.material.name}, {sheet.sheet.name}"
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>\n',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{wide}mm" '
        f'height="{high}mm" viewBox="0 0 {wide} {high}">\n',
        f"<title>{xml_text(title)}</title>\n<desc>{xml_text(ABOUT)}</desc>\n",
        f'<g id="{SHEET_GROUP}" fill="none" stroke="#999" stroke-width="0.1">\n',
        f'<path d="{_edge(sheet)}"/>\n',
        *(
            _shape(f"Kept free: {one.why}", _rings(sheet, one.area))
            for one in kept_free(sheet.sheet)
        ),
        "</g>\n",
    ]
    out += _photos(sheet)
    for process, style in _STYLES.items():
        out.append(f'<g id="{process.value}" {style}>\n')
        out += [_shape(part.name, d) for part in sheet.parts for d in _data(part, process, sheet)]
        out.append("</g>\n")
    out.append("</svg>\n")
    return "".join(out)


def _edge(sheet: PlannedSheet) -> str:
    """Edge of the sheet, and of its holes."""
    size = sheet.sheet
    wide, high = (short_number(side, DECIMALS) for side in (size.width_mm, size.height_mm))
    if size.outline is None:
        return f"M0 0h{wide}v{high}h-{wide}z"
    return _rings(sheet, size.outline)


def _rings(sheet: PlannedSheet, area: Polygon) -> str:
    return path_data.rings(rings_of(area), sheet.sheet.height_mm, decimals=DECIMALS)


def _photos(sheet: PlannedSheet) -> list[str]:
    """Pictures as they are drawn, each cut to where it is burned; nothing if there are none.

    Copies share their dots, which are written once.
    """
    height = sheet.sheet.height_mm
    dots: dict[int, str] = {}
    defined: list[str] = []
    used: list[str] = []
    for number, place in enumerate(sheet.intended.photos, 1):
        edge = path_data.rings(rings_of(place.area), height, decimals=DECIMALS)
        if not edge:
            continue
        known = id(place.picture.grey)
        if known not in dots:
            dots[known] = f"dots-{len(dots) + 1}"
            defined.append(svg_dots(place.picture, dots[known]))
        defined.append(
            f'<clipPath id="photo-{number}"><path d="{edge}" clip-rule="evenodd"/></clipPath>\n'
        )
        used.append(
            f'<g clip-path="url(#photo-{number})">\n'
            f"{svg_use(place.picture, dots[known], height)}</g>\n"
        )
    if not used:
        return []
    return ["<defs>\n", *defined, f'</defs>\n<g id="{Process.PHOTO.value}">\n', *used, "</g>\n"]


def _data(part: Part, process: Process, sheet: PlannedSheet) -> Iterable[str]:
    """Path data of everything of a part that one process burns."""
    height_mm = sheet.sheet.height_mm
    if process is Process.ENGRAVE:
        for area in drawn_areas(part, sheet.recipes.get(process)):
            yield path_data.rings(rings_of(area), height_mm, decimals=DECIMALS)
    elif process is Process.SCORE:
        for scored in part.scores:
            yield path_data.lines(list(scored.paths), height_mm, decimals=DECIMALS)
    elif not part.blank:
        cuts = [*part.slits, *part.holes, part.outline]
        yield path_data.lines(cuts, height_mm, decimals=DECIMALS)


def _shape(name: str, data: str) -> str:
    return f'<path d="{data}"><title>{xml_text(name)}</title></path>\n' if data else ""
