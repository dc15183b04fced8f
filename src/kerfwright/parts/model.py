"""A part: what falls out of the sheet, and everything that is burned inside it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely import MultiPolygon, Polygon
from shapely.affinity import affine_transform

from kerfwright.drawing.model import Picture, Shape
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import polygon_of
from kerfwright.toolpath import Process


@dataclass(frozen=True, eq=False, slots=True)
class ProcessedShape:
    """A shape and what the beam will do to it; ``rule`` says which rule decided."""

    shape: Shape
    process: Process
    rule: str


@dataclass(frozen=True, eq=False, slots=True)
class ScoreMark:
    """Lines burned into a part without freeing it."""

    shape: str
    layer: str
    paths: tuple[Path, ...]


@dataclass(frozen=True, eq=False, slots=True)
class EngraveMark:
    """An area burned into a part."""

    shape: str
    layer: str
    area: MultiPolygon


@dataclass(frozen=True, eq=False, slots=True)
class PhotoMark:
    """A picture of dots that lies on a part."""

    picture: Picture


@dataclass(frozen=True, eq=False, slots=True)
class Part:
    """One part in its drawing's coordinates.

    ``outline`` is closed and counter-clockwise, ``holes`` are closed and clockwise. ``slits``
    are open cuts inside the part. A blank (made elsewhere, only marked) has ``blank`` set: its
    outline bounds the marks and is never cut.
    """

    name: str
    drawing: str
    outline: Path
    holes: tuple[Path, ...] = ()
    slits: tuple[Path, ...] = ()
    scores: tuple[ScoreMark, ...] = ()
    engraves: tuple[EngraveMark, ...] = ()
    guides: tuple[Path, ...] = ()
    photos: tuple[PhotoMark, ...] = ()
    blank: bool = False

    @property
    def polygon(self) -> Polygon:
        """The part's material: its outline less its holes."""
        return polygon_of(self.outline, self.holes)

    @property
    def processes(self) -> frozenset[Process]:
        """What the beam has to do for this part."""
        asked = {
            Process.CUT: not self.blank,
            Process.SCORE: bool(self.scores),
            Process.ENGRAVE: bool(self.engraves),
            Process.PHOTO: bool(self.photos),
        }
        return frozenset(process for process, wanted in asked.items() if wanted)

    def transformed(self, transform: Affine) -> Part:
        """Return the part with everything that belongs to it moved by ``transform``."""
        return Part(
            name=self.name,
            drawing=self.drawing,
            outline=self.outline.transformed(transform),
            holes=tuple(hole.transformed(transform) for hole in self.holes),
            slits=tuple(slit.transformed(transform) for slit in self.slits),
            scores=tuple(
                ScoreMark(m.shape, m.layer, tuple(p.transformed(transform) for p in m.paths))
                for m in self.scores
            ),
            engraves=tuple(
                EngraveMark(m.shape, m.layer, _moved(m.area, transform)) for m in self.engraves
            ),
            guides=tuple(guide.transformed(transform) for guide in self.guides),
            photos=tuple(PhotoMark(mark.picture.transformed(transform)) for mark in self.photos),
            blank=self.blank,
        )

    def mirrored(self, width_mm: float) -> Part:
        """Return the part mirrored left to right in a drawing of that width."""
        turned = self.transformed(Affine(a=-1.0, e=width_mm))
        # a mirror turns the sense of every closed line round
        return replace(
            turned,
            outline=turned.outline.reversed(),
            holes=tuple(hole.reversed() for hole in turned.holes),
        )


def _moved(area: MultiPolygon, transform: Affine) -> MultiPolygon:
    t = transform
    return affine_transform(area, [t.a, t.c, t.b, t.d, t.e, t.f])
