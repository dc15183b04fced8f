"""What a sheet's program is proven against, kept beside it: ``NAME.proof.json``.

With it a program, or a part of one, can be proven again long after the drawings have changed. It
holds the wanted lines and areas as they lie on the sheet, bit for bit, the recipes and the machine.
"""

from __future__ import annotations

import base64
import zlib
from collections import Counter
from pathlib import Path as FilePath

import numpy as np
import numpy.typing as npt
import shapely
from pydantic import BaseModel, ConfigDict, ValidationError
from shapely import MultiPolygon

from kerfwright.cutting.tabs import HoldingTab
from kerfwright.drawing.model import Picture
from kerfwright.engraving.photo_cells import PhotoPlace
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import Times
from kerfwright.nesting.model import SheetSize
from kerfwright.output.text import encodable
from kerfwright.parts.model import Part, ScoreMark
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.toolpath import MOVE_DTYPE, Process, Toolpath

VERSION = 1


class _Kept(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Line(_Kept):
    """Points as base64 of float64 pairs."""

    points: str
    closed: bool


class _Part(_Kept):
    name: str
    instance: int
    drawing: str
    blank: bool
    outline: _Line
    holes: tuple[_Line, ...]
    slits: tuple[_Line, ...]
    scores: tuple[_Line, ...]


class _Photo(_Kept):
    name: str
    rows: int
    grey: str
    alpha: str | None
    to_mm: tuple[float, float, float, float, float, float]
    area: str


class _Tab(_Kept):
    x_mm: float
    y_mm: float
    width_mm: float


class SheetProof(_Kept):
    """A planned sheet without its toolpath; areas are base64 of well-known binary (ISO 19125)."""

    version: int
    number: int
    machine: Machine
    material: Material
    processes: tuple[Process, ...]
    sheet: str
    width_mm: float
    height_mm: float
    shared_edges: bool
    merge_mm: float
    parts: tuple[_Part, ...]
    area: str
    relief: str
    photos: tuple[_Photo, ...]
    tabs: tuple[_Tab, ...]


def proof_text(sheet: PlannedSheet, machine: Machine, seen: Counter[str]) -> str:
    """Return the proof file of a sheet; ``seen`` counts parts by name over all sheets."""
    proof = SheetProof(
        version=VERSION,
        number=sheet.number,
        machine=machine,
        material=sheet.material,
        processes=tuple(sheet.recipes),
        sheet=encodable(sheet.sheet.name),
        width_mm=sheet.sheet.width_mm,
        height_mm=sheet.sheet.height_mm,
        shared_edges=sheet.shared_edges,
        merge_mm=sheet.merge_mm,
        parts=tuple(_part(part, seen) for part in sheet.parts),
        area=_packed(shapely.to_wkb(sheet.intended.area)),
        relief=_packed(shapely.to_wkb(sheet.intended.relief)),
        photos=tuple(_photo(place) for place in sheet.intended.photos),
        tabs=tuple(
            _Tab(x_mm=tab.x_mm, y_mm=tab.y_mm, width_mm=tab.width_mm) for tab in sheet.intended.tabs
        ),
    )
    return proof.model_dump_json(indent=1) + "\n"


def read_proof(file: FilePath) -> tuple[PlannedSheet, Machine, tuple[int, ...]]:
    """Return the sheet (with an empty toolpath), its machine, and which of its name each part is.

    Raises:
        KerfwrightError: ``program/no-proof``.

    """
    try:
        proof = SheetProof.model_validate_json(file.read_bytes())
        if proof.version != VERSION:
            raise ValueError("another version")
        return _sheet(proof), proof.machine, tuple(part.instance for part in proof.parts)
    except (OSError, ValidationError, ValueError, zlib.error, shapely.errors.ShapelyError):
        raise KerfwrightError(
            "program/no-proof",
            file=str(file),
            thing="what the program was proven against cannot be read here.",
            remedy="Plan the order again; keep the files that a plan consists of together.",
        ) from None


def _sheet(proof: SheetProof) -> PlannedSheet:
    recipes = {
        process: recipe
        for process in proof.processes
        if (recipe := proof.material.recipe(proof.machine.name, process)) is not None
    }
    parts = tuple(
        Part(
            name=part.name,
            drawing=part.drawing,
            outline=_path(part.outline),
            holes=tuple(map(_path, part.holes)),
            slits=tuple(map(_path, part.slits)),
            scores=(ScoreMark("", "", tuple(map(_path, part.scores))),) if part.scores else (),
            blank=part.blank,
        )
        for part in proof.parts
    )
    return PlannedSheet(
        number=proof.number,
        material=proof.material,
        sheet=SheetSize(proof.sheet, proof.width_mm, proof.height_mm, 1),
        parts=parts,
        used_fraction=0.0,
        recipes=recipes,
        toolpath=Toolpath(np.empty(0, dtype=MOVE_DTYPE)),
        sources=(),
        intended=Intended(
            cuts=cuts_of(parts),
            scores=scores_of(parts),
            area=_area(proof.area),
            relief=_area(proof.relief),
            photos=tuple(map(_place, proof.photos)),
            tabs=tuple(HoldingTab(tab.x_mm, tab.y_mm, tab.width_mm) for tab in proof.tabs),
        ),
        times=Times(0.0, 0.0, 0.0),
        times_by_process_s={},
        shared_edges=proof.shared_edges,
        merge_mm=proof.merge_mm,
    )


def cuts_of(parts: tuple[Part, ...]) -> tuple[Path, ...]:
    """Everything that is cut of parts."""
    return tuple(
        cut for part in parts if not part.blank for cut in (part.outline, *part.holes, *part.slits)
    )


def scores_of(parts: tuple[Part, ...]) -> tuple[Path, ...]:
    """Everything that is scored on parts."""
    return tuple(path for part in parts for mark in part.scores for path in mark.paths)


def _part(part: Part, seen: Counter[str]) -> _Part:
    seen[part.name] += 1
    return _Part(
        name=encodable(part.name),
        instance=seen[part.name],
        drawing=encodable(part.drawing),
        blank=part.blank,
        outline=_line(part.outline),
        holes=tuple(map(_line, part.holes)),
        slits=tuple(map(_line, part.slits)),
        scores=tuple(_line(path) for mark in part.scores for path in mark.paths),
    )


def _line(path: Path) -> _Line:
    return _Line(points=_packed(path.points.astype("<f8").tobytes()), closed=path.closed)


def _path(line: _Line) -> Path:
    points = np.frombuffer(_unpacked(line.points), dtype="<f8").reshape(-1, 2)
    return Path(points.astype(np.float64), line.closed)


def _photo(place: PhotoPlace) -> _Photo:
    picture = place.picture
    t = picture.to_mm
    return _Photo(
        name=encodable(picture.name),
        rows=len(picture.grey),
        grey=_packed(picture.grey.tobytes()),
        alpha=None if picture.alpha is None else _packed(picture.alpha.tobytes()),
        to_mm=(t.a, t.b, t.c, t.d, t.e, t.f),
        area=_packed(shapely.to_wkb(place.area)),
    )


def _place(photo: _Photo) -> PhotoPlace:
    alpha = None if photo.alpha is None else _dots(photo.alpha, photo.rows)
    grey = _dots(photo.grey, photo.rows)
    return PhotoPlace(
        Picture(photo.name, grey, Affine(*photo.to_mm), alpha=alpha), _area(photo.area)
    )


def _dots(text: str, rows: int) -> npt.NDArray[np.uint8]:
    return np.frombuffer(_unpacked(text), dtype=np.uint8).reshape(rows, -1)


def _area(text: str) -> MultiPolygon:
    area = shapely.from_wkb(_unpacked(text))
    if not isinstance(area, MultiPolygon):
        raise ValueError("no area")
    return area


def _packed(data: bytes) -> str:
    return base64.b64encode(zlib.compress(data, 6)).decode("ascii")


def _unpacked(text: str) -> bytes:
    return zlib.decompress(base64.b64decode(text, validate=True))
