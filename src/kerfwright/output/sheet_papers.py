"""What several papers show of one sheet: made once, however many of them show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from kerfwright.output.paper import printed_picture
from kerfwright.output.part_names import instances_of
from kerfwright.output.photo_picture import ExpectedPhoto, expected_photos
from kerfwright.output.pictures import beam_picture, sheet_picture
from kerfwright.output.sheet_energy import ProcessEnergy, energy_by_process
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.machine import Machine

PRINTED_PX = 1100
"""Width of a picture on paper."""


@dataclass(frozen=True, eq=False)
class SheetPapers:
    """Pictures of a sheet as SVG, its photos as expected, and what its beam puts out."""

    layout: str
    beam: str
    photos: tuple[ExpectedPhoto, ...]
    energy: dict[str, ProcessEnergy]

    @cached_property
    def printed(self) -> tuple[bytes, bytes]:
        """The layout and the beam's way as PNG for paper."""
        return printed_picture(self.layout, PRINTED_PX), printed_picture(self.beam, PRINTED_PX)


def papers_of(sheet: PlannedSheet, machine: Machine, instances: Sequence[int]) -> SheetPapers:
    """Make what papers show of a sheet; ``instances`` tell copies of its parts apart."""
    return SheetPapers(
        layout=sheet_picture(sheet, instances),
        beam=beam_picture(sheet, machine=machine),
        photos=tuple(expected_photos(sheet, machine)),
        energy=energy_by_process(sheet, machine),
    )


def papers_of_plan(plan: Plan) -> tuple[SheetPapers, ...]:
    """Make what papers show of every sheet of a plan."""
    return tuple(
        papers_of(sheet, plan.machine, instances)
        for sheet, instances in zip(plan.sheets, instances_of(plan.sheets), strict=True)
    )
