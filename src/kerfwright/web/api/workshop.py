"""What the workshop has: machines, materials with their recipes, rates."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_machine, load_material
from kerfwright.web.api.orders import Here, currency_of
from kerfwright.web.workshop import Workshop, is_within

router = APIRouter(tags=["workshop"])


class MachineFile(BaseModel):
    """A machine of the workshop; ``trouble`` says why its file cannot be read."""

    file: str
    name: str
    bed_mm: tuple[float, float] | None = None
    trouble: str = ""


class RecipeLine(BaseModel):
    """A recipe as its file says it."""

    machine: str
    process: str
    status: str
    tested_on: str
    tested_by: str
    settings: dict[str, Any]
    """What differs from what a recipe has by default."""


class MaterialFile(BaseModel):
    """A material of the workshop; ``trouble`` says why its file cannot be read."""

    file: str
    name: str
    thickness_mm: float | None = None
    invented: bool = False
    recipes: tuple[RecipeLine, ...] = ()
    trouble: str = ""


class WorkshopPage(BaseModel):
    """The workshop's own files, relative to its folder."""

    machines: list[MachineFile]
    materials: list[MaterialFile]
    rates: str | None
    currency: str = ""
    """What amounts are in, by the rates; empty where there are none that can be read."""


@router.get("/workshop")
def show_workshop(workshop: Here) -> WorkshopPage:
    """Machines, materials with their recipes, and the rates file."""
    rates = workshop.rates_file()
    return WorkshopPage(
        machines=[_machine(workshop, file) for file in workshop.machine_files()],
        materials=[_material(workshop, file) for file in workshop.material_files()],
        rates=None if rates is None else workshop.shown(str(rates)),
        currency=_currency(workshop, rates),
    )


def _currency(workshop: Workshop, rates: Path | None) -> str:
    if rates is None or not is_within(rates, workshop.folder):
        return ""
    return currency_of(rates)


def _machine(workshop: Workshop, file: Path) -> MachineFile:
    shown = workshop.shown(str(file))
    try:
        machine = load_machine(file)
    except KerfwrightError as error:
        return MachineFile(file=shown, name=file.stem, trouble=f"{error.thing} {error.remedy}")
    size = (machine.bed_width_mm, machine.bed_height_mm)
    return MachineFile(file=shown, name=machine.name, bed_mm=size)


def _material(workshop: Workshop, file: Path) -> MaterialFile:
    shown = workshop.shown(str(file))
    try:
        material = load_material(file)
    except KerfwrightError as error:
        return MaterialFile(file=shown, name=file.stem, trouble=f"{error.thing} {error.remedy}")
    told = {"machine", "process", "status", "tested_on", "tested_by"}
    recipes = tuple(
        RecipeLine(
            machine=recipe.machine,
            process=recipe.process,
            status=recipe.status.value,
            tested_on="" if recipe.tested_on is None else recipe.tested_on.isoformat(),
            tested_by=recipe.tested_by or "",
            settings=recipe.model_dump(mode="json", exclude_defaults=True, exclude=told),
        )
        for recipe in material.recipes
    )
    return MaterialFile(
        file=shown,
        name=material.name,
        thickness_mm=material.thickness_mm,
        invented=material.invented,
        recipes=recipes,
    )
