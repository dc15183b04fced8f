"""Paths of whole sheets kept for planning again, exactly as if all were planned anew."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from kerfwright.sequence.beam_path import BeamPath, BeamPlanner, PlacedPart


@dataclass(eq=False, slots=True)
class KeptPaths:
    """Plans sheet after sheet, or takes the path of one that is the same as before.

    Copies are engraved like the first of them, and where that lies decides on the last bits of
    its numbers. So a sheet is the same only if the first copies of its parts are, too, and those
    on sheets that were taken from memory are met before a new sheet is planned.
    """

    beam: BeamPlanner
    _firsts: dict[tuple[object, ...], PlacedPart] = field(default_factory=dict)
    _met: set[tuple[object, ...]] = field(default_factory=set)

    def plan(
        self,
        placed: Sequence[PlacedPart],
        sheet: str,
        sheet_mm: tuple[float, float],
        *,
        begun: Callable[[], None],
        found: Callable[[], None],
    ) -> BeamPath:
        """Plan one sheet as :meth:`BeamPlanner.plan`; tells what it does.

        ``begun`` is called before a path is planned, ``found`` where it was in memory.
        """
        marked = [one for one in placed if one.part.engraves or one.part.photos]
        firsts = [self._firsts.setdefault(one.same, one) for one in marked]
        here = {id(one) for one in marked}
        elsewhere = list({id(one): one for one in firsts if id(one) not in here}.values())

        def make() -> BeamPath:
            begun()
            self.beam.meet([one for one in elsewhere if one.same not in self._met])
            self._met.update(one.same for one in marked)
            return self.beam.plan(placed, sheet, sheet_mm)

        beam = self.beam
        settings = (beam.machine, beam.recipes, beam.merge_mm, beam.shared_edges)
        inputs = (
            *settings,
            beam.order_of_work,
            [_content(one) for one in placed],
            [_content(one) for one in elsewhere],
            sheet,
            sheet_mm,
        )
        return beam.kept.of("beam path", inputs, make, found=lambda _: found())


def _content(placed: PlacedPart) -> tuple[object, ...]:
    """Everything of a placed part that its path depends on."""
    part = placed.part
    layers = dict.fromkeys(mark.layer for mark in part.engraves)
    return (
        part,
        placed.instance,
        placed.item,
        placed.same,
        [placed.way_of(layer) for layer in layers],
        placed.photo_rows,
        placed.tabs,
        placed.item_number,
    )
