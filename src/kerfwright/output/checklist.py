"""What to tick before the beam goes on: common practice of the trade, no source.

What the classes of lasers mean is said after IEC 60825-1, from memory. The machine's manual, that
standard, local codes and the person responsible for laser safety come before every line of this.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.machine import LaserClass, Machine

AUTHORITY = (
    "The machine’s manual, IEC 60825-1 (in the United States also ANSI Z136.1), local codes and "
    "the person responsible for laser safety (laser safety officer) come before anything on this "
    "page."
)


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to see to: its key word, and what has to be so."""

    what: str
    why: str


ATTENDED = Check(
    "Attended.",
    "Never leave a burning laser unattended, not for a moment. Whoever stays with it knows the "
    "emergency stop.",
)
FIRE = Check(
    "Fire.",
    "An extinguisher that suits the machine and the material is at hand. The bed and what lies "
    "under it are clear of scraps, dust and tools.",
)
FUMES = Check(
    "Fumes.",
    "The extraction runs and its filter or outlet is clear. Never burn PVC, vinyl or other "
    "plastics with chlorine, nor a plastic that nobody can name: the gas is poisonous and eats the "
    "machine. The material’s safety data sheet is known.",
)
OPTICS = Check("Optics.", "Lens and mirrors are clean and whole; wiped as the manual says.")
SHEET = Check(
    "Sheet.",
    "It is the right material and thickness, lies flat, is held down, and its lower left corner is "
    "where the machine’s zero is.",
)
FIXTURE = Check(
    "Fixture.",
    "It lies where the layout has it from the machine’s zero, every blank sits flat in its pocket, "
    "the head clears the highest of them, and the focus is set for their surface.",
)
"""Where blanks lie in a fixture, instead of what is to be ticked of a sheet."""
SETTINGS = Check(
    "Settings.",
    "They were tested on an offcut of this sheet, and the focus is set for its thickness.",
)
DRY_RUN = Check(
    "Dry run.",
    "The outline of the work was run with the beam off, and nothing stands in the way.",
)

CLOSED = (
    "Enclosure and windows are whole and shut, and no interlock is bridged: only so it is class 1 "
    "and asks for no eyewear. Opened, it is of the class of the laser inside, mostly 4."
)
OPEN = (
    "Its beam, and at class 4 what is thrown back from any surface, harms eyes and skin. No "
    "interlock is bridged; the area is closed off and its warning on; everyone in it wears eyewear "
    "made for this wavelength and power."
)
WEAK = (
    "That is too weak to cut: make sure that the label speaks of the whole machine and not of its "
    "pointer. Nobody looks into the beam{lenses}; no interlock is bridged; eyewear as the manual "
    "asks."
)
SILENT = (
    "Nobody has said its class: look at the label, and at what the manual asks of that class. "
    "Until then treat it as class 4: enclosure shut, no interlock bridged, eyewear made for its "
    "wavelength for everyone in the room."
)
WITH_LENSES = ", least of all through lenses"


def checks_of_sheet(sheet: PlannedSheet, machine: Machine) -> tuple[Check, ...]:
    """What to tick before a sheet is burned."""
    return _checks((sheet,), machine)


def checks_of_plan(plan: Plan) -> tuple[Check, ...]:
    """What to tick before any sheet of a plan is burned."""
    return _checks(plan.sheets, plan.machine)


def eyes(machine: Machine) -> Check:
    """What the laser's class asks for, as the machine's label has it."""
    of_class = machine.laser_class
    if of_class is None:
        return Check("Eyes, class not known.", SILENT)
    words = {"1": CLOSED, "3B": OPEN, "4": OPEN}.get(of_class, WEAK)
    return Check(f"Eyes, class {of_class}.", words.format(lenses=_lenses(of_class)))


def _lenses(of_class: LaserClass) -> str:
    """Classes with an M are those for which lenses make the beam more dangerous."""
    return WITH_LENSES if of_class.endswith("M") else ""


def _checks(sheets: Sequence[PlannedSheet], machine: Machine) -> tuple[Check, ...]:
    in_fixtures = [bool(sheet.sheet.pockets) for sheet in sheets]
    lying = (() if in_fixtures and all(in_fixtures) else (SHEET,)) + (
        (FIXTURE,) if any(in_fixtures) else ()
    )
    blown = dict.fromkeys(
        process.value for sheet in sheets for process, recipe in sheet.recipes.items() if recipe.air
    )
    air = (_air(list(blown), machine),) if blown else ()
    return (ATTENDED, FIRE, FUMES, eyes(machine), OPTICS, *air, *lying, SETTINGS, DRY_RUN)


def _air(processes: list[str], machine: Machine) -> Check:
    by_program = bool(machine.controller.air_on)
    return Check(
        "Air.",
        f"The recipe asks for it: {', '.join(processes)}. The pump is ready; "
        + (
            "the program switches it, and it was seen to blow."
            if by_program
            else "the program does not switch it, so do it by hand."
        ),
    )
