"""Walks through a DXF file's model space and its blocks, and gathers the shapes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path as FilePath

import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.entities.attrib import AttDef
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.entities.mline import MLine
from ezdxf.entities.mpolygon import MPolygon
from ezdxf.entities.polygon import DXFPolygon
from ezdxf.entities.solid import Solid
from ezdxf.math import Matrix44, Vec3
from ezdxf.xclip import XClip

from kerfwright.drawing.dxf.curves import LINES, lines_of, solid_of
from kerfwright.drawing.dxf.findings import DxfTally, printable
from kerfwright.drawing.dxf.hatch import hatch_of, is_pattern
from kerfwright.drawing.dxf.layers import (
    Inherited,
    Layers,
    LayerState,
    hex_of,
    properties_of,
)
from kerfwright.drawing.dxf.text import DxfTexts
from kerfwright.drawing.dxf.view import FarAwayError, NotALineError, View
from kerfwright.drawing.lettering.findings import UnsetTextError
from kerfwright.drawing.model import Paint, Shape
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM

COPIES_LIMIT = 300_000
"""Entities reached through blocks: a file of a few lines can ask for billions."""

_DEPTH_LIMIT = 60
"""Blocks within blocks; deeper than any drawing, and well within Python's own stack."""

_TEXTS = frozenset(("TEXT", "MTEXT", "ATTRIB"))
_AREAS = frozenset(("SOLID", "TRACE"))
_HATCHES = frozenset(("HATCH", "MPOLYGON"))
_NEVER_DRAWN = frozenset(("SEQEND", "VIEWPORT", "BLOCK", "ENDBLK"))
_KINDS = {"LWPOLYLINE": "polyline"}

_LEFT_OUT = {
    "POINT": "dxf-points",
    "DIMENSION": "dxf-dimensions",
    "ARC_DIMENSION": "dxf-dimensions",
    "LARGE_RADIAL_DIMENSION": "dxf-dimensions",
    "LEADER": "dxf-dimensions",
    "MULTILEADER": "dxf-dimensions",
    "MLEADER": "dxf-dimensions",
    "TOLERANCE": "dxf-dimensions",
    "WIPEOUT": "dxf-cover",
    "RAY": "dxf-endless-line",
    "XLINE": "dxf-endless-line",
}
"""Kinds that have a finding of their own; any other that is not read is ``dxf-left-out``."""


class Walk:
    """One walk through one file; :attr:`shapes` fills as it goes."""

    def __init__(
        self, document: Document, *, unit_mm: float, chord_mm: float, tally: DxfTally, file: str
    ) -> None:
        self.shapes: list[Shape] = []
        self._document = document
        self._chord_mm = chord_mm
        self._to_mm = Matrix44.scale(unit_mm)
        self._tally = tally
        self._file = file
        self._layers = Layers(document)
        self._texts = DxfTexts(document, FilePath(file))
        self._paints: dict[str, Paint] = {}
        self._names: dict[str, int] = {}
        self._copied = 0

    def model_space(self) -> None:
        """Gather everything that is drawn in the model."""
        self._entities(self._document.modelspace(), self._to_mm, Inherited())

    def _entities(
        self, entities: Iterable[DXFEntity], matrix: Matrix44, inherited: Inherited
    ) -> None:
        view = View(matrix, self._chord_mm)
        for entity in entities:
            if inherited.layer is not None:
                self._count_copy()
            if not entity.is_alive or entity.dxftype() in _NEVER_DRAWN:
                continue
            properties = properties_of(entity)
            layer = self._layers.layer_named(properties.get("layer", "0"), inherited)
            view.remarks.clear()
            try:
                if self._is_shown(entity, layer, properties):
                    self._entity(entity, layer, view, inherited)
            except (KerfwrightError, RecursionError, MemoryError):
                raise
            except FarAwayError:
                raise self._far_away(entity, layer, inherited) from None
            except Exception:  # what damaged data makes the DXF library raise has no bounds
                name = _label(entity, inherited)
                self._tally.add("dxf-damaged-entity", shape=name, detail=name)

    def _is_shown(
        self, entity: DXFEntity, layer: LayerState, properties: Mapping[str, object]
    ) -> bool:
        if layer.drawn and not properties.get("invisible"):
            return True
        # An INSERT on a layer that is off still shows what its block has on other layers.
        off = layer.off and not isinstance(entity, Insert)
        if properties.get("invisible") or layer.frozen or off:
            self._tally.add("hidden", detail=f'layer "{layer.name}"')
            return False
        if not layer.plotted and not isinstance(entity, Insert):
            self._tally.add("dxf-not-plotted", detail=f'layer "{layer.name}"')
            return False
        return True

    def _entity(
        self, entity: DXFEntity, layer: LayerState, view: View, inherited: Inherited
    ) -> None:
        kind = entity.dxftype()
        if isinstance(entity, Insert):
            self._insert(entity, layer, view, inherited)
        elif kind in LINES:
            self._line(entity, layer, view, inherited)
        elif kind in _HATCHES and isinstance(entity, DXFPolygon):
            self._hatch(entity, layer, view, inherited)
        elif isinstance(entity, Solid) and kind in _AREAS:
            fill = self._layers.colour_of(entity, layer, inherited)
            name = self._add(entity, solid_of(entity, view), layer, Paint(fill=fill), inherited)
            self._tell_remarks(view, name)
        elif isinstance(entity, MLine):
            self._parts(entity, layer, view, inherited)
        elif kind in _TEXTS:
            self._text(entity, view, inherited)
        elif isinstance(entity, AttDef):
            # In a block it only asks for a text, which the INSERT has, unless it is constant.
            if (entity.is_const or inherited.layer is None) and not entity.is_invisible:
                self._text(entity, view, inherited)
        else:
            self._tally.add(_LEFT_OUT.get(kind, "dxf-left-out"), detail=printable(kind))

    def _line(self, entity: DXFEntity, layer: LayerState, view: View, inherited: Inherited) -> None:
        try:
            paths = lines_of(entity, view)
        except NotALineError:
            self._tally.add("dxf-left-out", detail="mesh")
            return
        stroke = self._layers.colour_of(entity, layer, inherited)
        paint = self._paints.get(stroke)
        if paint is None:
            paint = self._paints[stroke] = Paint(stroke=stroke)
        name = self._add(entity, paths, layer, paint, inherited)
        if view.remarks:
            self._tell_remarks(view, name)
        if self._layers.is_dashed(entity, layer, inherited):
            self._tally.add("dashes", shape=name, detail=f'layer "{layer.name}"')

    def _hatch(
        self, entity: DXFPolygon, layer: LayerState, view: View, inherited: Inherited
    ) -> None:
        paths, rule = hatch_of(entity, view)
        pattern = is_pattern(entity)
        fill = "pattern" if pattern else self._layers.colour_of(entity, layer, inherited)
        paint = Paint(fill=fill, fill_rule=rule)
        if isinstance(entity, MPolygon):
            paint = self._polygon_paint(entity, layer, inherited)
            pattern = paint.fill == "pattern"
        name = self._add(entity, paths, layer, paint, inherited)
        self._tell_remarks(view, name)
        if pattern:
            self._tally.add("dxf-pattern", shape=name)

    def _polygon_paint(self, entity: MPolygon, layer: LayerState, inherited: Inherited) -> Paint:
        """An MPOLYGON has a line, and a filling with a colour of its own."""
        stroke = self._layers.colour_of(entity, layer, inherited)
        fill: str | None = None
        if is_pattern(entity):
            drawn = entity.gradient or entity.dxf.pattern_name not in ("", "SOLID")
            fill = "pattern" if drawn else None
        else:
            fill = self._layers.number_colour_of(entity.dxf.fill_color, layer, inherited)
        return Paint(fill=fill, stroke=stroke, fill_rule="evenodd")

    def _parts(self, entity: MLine, layer: LayerState, view: View, inherited: Inherited) -> None:
        """An MLINE as the lines, arcs and areas that the DXF library takes it apart into."""
        for part in entity.virtual_entities():
            part.dxf.handle = entity.dxf.handle
            self._entity(part, layer, view, inherited)

    def _tell_remarks(self, view: View, name: str) -> None:
        for slug in sorted(view.remarks):
            self._tally.add(slug, shape=name)
        view.remarks.clear()

    def _add(
        self,
        entity: DXFEntity,
        paths: list[Path],
        layer: LayerState,
        paint: Paint,
        inherited: Inherited,
    ) -> str:
        if not paths:
            raise ValueError("nothing to draw")
        label = _label(entity, inherited)
        long = [path for path in paths if _has_length(path.points)]
        if len(long) < len(paths):
            self._tally.add("no-length", shape=label, detail=label, count=len(paths) - len(long))
        if not long:
            return label
        times = self._names[label] = self._names.get(label, 0) + 1
        name = label if times == 1 else f"{label} ({times})"
        self.shapes.append(Shape(name, tuple(long), layer.name, paint))
        return name

    def _text(self, entity: DXFEntity, view: View, inherited: Inherited) -> None:
        words = _words(entity)
        if not words:
            return
        label = _label(entity, inherited)
        try:
            text = self._texts.set(entity, view)
        except UnsetTextError as fault:
            x_mm, y_mm = view.points([Vec3(_text_place(entity))])[0].tolist()
            self._tally.add(fault.slug, shape=label, detail=fault.detail, at_mm=(x_mm, y_mm))
            return
        for slug, detail in text.asides:
            self._tally.add(slug, shape=label, detail=detail)
        layer = self._layers.layer_named(properties_of(entity).get("layer", "0"), inherited)
        for own, paths in text.areas.items():
            colour = self._layers.colour_of(entity, layer, inherited)
            if isinstance(own, tuple):
                colour = hex_of(own)
            elif isinstance(own, int):
                colour = self._layers.number_colour_of(own, layer, inherited)
            self._add(entity, list(paths), layer, Paint(fill=colour), inherited)
        self._tell_remarks(view, label)

    def _insert(self, insert: Insert, layer: LayerState, view: View, inherited: Inherited) -> None:
        for attribute in insert.attribs:
            properties = properties_of(attribute)
            own = self._layers.layer_named(properties.get("layer", "0"), inherited)
            if not attribute.is_invisible and self._is_shown(attribute, own, properties):
                self._text(attribute, view, inherited)
        block = insert.block()
        name = str(insert.dxf.get("name", ""))
        key = name.lower()
        if (
            block is None
            or insert.is_xref()
            or key in inherited.blocks
            or len(inherited.blocks) > _DEPTH_LIMIT
        ):
            self._tally.add("dxf-missing-block", shape=_label(insert, inherited), detail=name)
            return
        if insert.has_extension_dict and XClip(insert).has_clipping_path:
            self._tally.add("dxf-clipped-block", shape=_label(insert, inherited), detail=name)
        colour = self._layers.colour_of(insert, layer, inherited)
        dashed = self._layers.is_dashed(insert, layer, inherited)
        trail = f" in {_label(insert, inherited)}"
        blocks = inherited.blocks | {key}
        placed = insert.matrix44()
        for place, offset in _grid(insert):
            self._count_copy()
            matrix = placed * Matrix44.translate(*offset.xyz) * view.matrix
            self._entities(block, matrix, Inherited(layer, colour, dashed, trail + place, blocks))

    def _far_away(
        self, entity: DXFEntity, layer: LayerState, inherited: Inherited
    ) -> KerfwrightError:
        return KerfwrightError(
            "drawing/coordinates",
            file=self._file,
            thing=f'{_label(entity, inherited)} on layer "{layer.name}" has a coordinate or a '
            "radius that is not a finite number or lies more than 100 m away.",
            remedy="Delete what lies far outside in the drawing program, and check the unit.",
        )

    def _count_copy(self) -> None:
        self._copied += 1
        if self._copied > COPIES_LIMIT:
            raise KerfwrightError(
                "drawing/too-many-copies",
                file=self._file,
                thing=f"The blocks of the file, as often as they are placed, make more than "
                f"{COPIES_LIMIT} entities.",
                remedy="Explode the blocks in the drawing program and keep what you need.",
            )


def _has_length(points: FloatArray) -> bool:
    """Whether a line leads anywhere; raises :class:`FarAwayError` if it leads too far."""
    if len(points) == 2:
        (x0, y0), (x1, y1) = points.tolist()
        far = max(abs(x0), abs(y0), abs(x1), abs(y1))
        long = bool(x0 != x1 or y0 != y1)
    else:
        far = float(np.abs(points).max())
        long = bool((points != points[0]).any())
    if not far <= COORDINATE_LIMIT_MM:
        raise FarAwayError
    return long


def _grid(insert: Insert) -> Iterable[tuple[str, Vec3]]:
    """Label and offset of every copy that an INSERT places in rows and columns."""
    dxf = insert.dxf
    rows = dxf.row_count if dxf.row_spacing else 1
    columns = dxf.column_count if dxf.column_spacing else 1
    if rows <= 1 and columns <= 1:
        yield "", Vec3()
        return
    ocs = insert.ocs()
    for row in range(max(rows, 1)):
        for column in range(max(columns, 1)):
            step = Vec3(column * dxf.column_spacing, row * dxf.row_spacing).rotate_deg(dxf.rotation)
            yield f"[{row + 1},{column + 1}]", ocs.to_wcs(step)


def _label(entity: DXFEntity, inherited: Inherited) -> str:
    kind = entity.dxftype()
    handle = entity.dxf.get("handle") or "without handle"
    return printable(f"{_KINDS.get(kind, kind.lower())} {handle}") + inherited.trail


def _words(entity: DXFEntity) -> str:
    plain = getattr(entity, "plain_text", None)
    words = str(plain() if plain is not None else entity.dxf.get("text", ""))
    # Bytes that were no text come through as lone surrogates, which no terminal can print.
    words = words.encode("utf-8", "replace").decode("utf-8")
    words = " ".join(words.split())
    return words if len(words) <= 40 else f"{words[:39]}…"


def _text_place(entity: DXFEntity) -> Vec3:
    place = Vec3(entity.dxf.get("insert", (0.0, 0.0, 0.0)))
    # MTEXT stands in world coordinates, TEXT and ATTRIB in their own system.
    return place if entity.dxftype() == "MTEXT" else Vec3(entity.ocs().to_wcs(place))  # type: ignore[attr-defined]
