"""What must not be burned, what needs more than the usual care, and who says so.

The table is a reminder and no permission: whatever is not in it may be just as bad. The material's
safety data sheet, the machine's manual, local codes and the person responsible for laser safety
come first. Sources are named from memory, to be looked up; rows without one are common practice
of the trade. Short names of plastics are those of ISO 1043-1.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.findings import Finding, Severity
from kerfwright.shop.material import Material

PRACTICE = "common practice, no source"

PVC = (
    "Huggett & Levin 1987, Toxicity of the pyrolysis and combustion products of poly(vinyl "
    "chlorides), Fire and Materials 11"
)
FUME_FEVER = "Harris 1951, Polymer-fume fever, The Lancet 258"
ABS = (
    "Rutkowski & Levin 1986, Acrylonitrile–butadiene–styrene copolymers: pyrolysis and combustion "
    "products and their toxicity, Fire and Materials 10"
)
NYLON = "Braun & Levin 1987, Nylons: products of combustion and toxicity, Fire and Materials 11"
URETHANE = (
    "Paabo & Levin 1987, Gaseous products and toxicity from the combustion of rigid polyurethane "
    "foams, Fire and Materials 11"
)
STYRENE = (
    "Gurman, Baier & Levin 1987, Polystyrenes: products of thermal decomposition and toxicity, "
    "Fire and Materials 11"
)
FORMALDEHYDE = "IARC Monographs volume 100F (formaldehyde) and 100C (wood dust)"
CHROMIUM = "IARC Monographs volume 100C (chromium VI compounds)"
BERYLLIUM = "IARC Monographs volume 100C (beryllium)"
ZINC = "NIOSH Pocket Guide to Chemical Hazards, publication 2005-149 (zinc oxide fume)"
REFLECTION = "IEC 60825-1 (reflected beams); ISO 11553-1 (machines that process with lasers)"


@dataclass(frozen=True, slots=True)
class Hazard:
    """One row: the words by which it is known, whether it stops the work, why, and who says so."""

    words: tuple[str, ...]
    severity: Severity
    what: str
    why: str
    remedy: str
    source: str = PRACTICE


STOP, WARN = Severity.STOP, Severity.WARN

NEVER = "Do not burn it. Cut it by other means, or choose another material."

HAZARDS = (
    Hazard(
        (
            *("pvc", "upvc", "cpvc", "vinyl", "vinyls", "polyvinyl chloride", "pvdc"),
            *("polyvinylidene chloride", "chlorinated", "leatherette", "faux leather"),
            *("imitation leather", "artificial leather", "synthetic leather"),
        ),
        STOP,
        "a plastic with chlorine",
        "its smoke is hydrogen chloride, which burns lungs and eats the machine",
        f"{NEVER} If the name misleads, say what the sheet is with made_of.",
        PVC,
    ),
    Hazard(
        (
            *("ptfe", "fep", "pfa", "pvdf", "etfe", "ectfe", "pctfe", "fkm"),
            *("polytetrafluoroethylene", "fluoropolymer", "fluorinated", "non-stick"),
        ),
        STOP,
        "a plastic with fluorine",
        "overheated it gives off hydrogen fluoride and perfluorinated gases",
        NEVER,
        FUME_FEVER,
    ),
    Hazard(
        ("brominated", "fr-4", "fr4", "halogen", "chloroprene", "neoprene"),
        STOP,
        "a material with halogens",
        "its smoke is corrosive and poisonous",
        f"{NEVER} There are kinds without halogens: ask for the safety data sheet.",
    ),
    Hazard(
        ("beryllium",),
        STOP,
        "an alloy of beryllium",
        "its fume causes cancer and lasting lung disease",
        NEVER,
        BERYLLIUM,
    ),
    Hazard(
        ("carbon fibre", "carbon fiber", "cfrp"),
        STOP,
        "a fibre compound",
        "its resin burns to poisonous smoke, and its dust conducts and settles in electronics",
        NEVER,
    ),
    Hazard(
        (
            *("fibreglass", "fiberglass", "gfrp", "grp", "glass fibre", "glass fiber"),
            *("glass reinforced", "g-10"),
        ),
        STOP,
        "a fibre compound",
        "its resin burns to poisonous smoke while the glass stands",
        NEVER,
    ),
    Hazard(
        ("polycarbonate", "pc"),
        WARN,
        "polycarbonate",
        "it chars, catches fire easily and shuts small beams out where it is thick",
        "Cut it by other means; where thin film must be cut, try an offcut and watch it.",
    ),
    Hazard(
        ("abs", "asa", "san"),
        WARN,
        "a plastic with acrylonitrile",
        "it melts and its smoke holds styrene and hydrogen cyanide",
        "Use it only with extraction made for such fumes, or choose another material.",
        ABS,
    ),
    Hazard(
        ("nylon", "polyamide", "pa6", "pa66", "pa11", "pa12"),
        WARN,
        "polyamide",
        "its smoke holds ammonia and hydrogen cyanide",
        "Use it only with extraction made for such fumes.",
        NYLON,
    ),
    Hazard(
        ("polyurethane", "pu foam", "pu leather", "pur"),
        WARN,
        "polyurethane",
        "its smoke holds isocyanates and hydrogen cyanide, and foam catches fire",
        "Use it only with extraction made for such fumes, and never leave it.",
        URETHANE,
    ),
    Hazard(
        ("polystyrene", "foam board", "foam core", "hips", "eps", "xps", "ps"),
        WARN,
        "polystyrene",
        "it melts, drips and catches fire",
        "Try an offcut first, keep the extinguisher at hand, and never leave it.",
        STYRENE,
    ),
    Hazard(
        ("polypropylene", "polyethylene", "hdpe", "ldpe", "pp", "pe"),
        WARN,
        "a polyolefin",
        "it melts, strings and burns with a flame that is hard to see",
        "Try an offcut first, and never leave it.",
    ),
    Hazard(
        ("pom", "acetal", "polyoxymethylene"),
        WARN,
        "polyacetal",
        "it gives off formaldehyde and burns with a flame that is hard to see",
        "Use it only with extraction made for such fumes, and never leave it.",
        FORMALDEHYDE,
    ),
    Hazard(
        ("mdf", "hdf", "chipboard", "particle board", "hardboard"),
        WARN,
        "wood bound with resin",
        "its smoke and dust hold formaldehyde",
        "Ask the supplier for a board made for lasers; extract well, also while it cools.",
        FORMALDEHYDE,
    ),
    Hazard(
        ("chrome-tanned", "chrome tanned", "chromium"),
        WARN,
        "leather tanned with chromium",
        "burned it may form chromium VI, which causes cancer",
        "Use leather tanned with plants.",
        CHROMIUM,
    ),
    Hazard(
        ("leather",),
        WARN,
        "leather",
        "most leather is tanned with chromium, which burned may form chromium VI",
        'Be sure that it is tanned with plants, and say so: made_of = ["vegetable-tanned hide"].',
        CHROMIUM,
    ),
    Hazard(
        ("galvanised", "galvanized", "zinc", "brass"),
        WARN,
        "a metal with zinc",
        "the fume of zinc causes metal fume fever",
        "Extract at the cut.",
        ZINC,
    ),
    Hazard(
        ("pressure-treated", "treated timber", "creosote", "railway sleeper"),
        STOP,
        "treated timber",
        "what keeps it from rotting may be arsenic, copper or tar, and goes into the smoke",
        NEVER,
    ),
    Hazard(
        ("painted", "lacquered", "varnished", "anodised", "anodized", "coated"),
        WARN,
        "a coated material",
        "what the coating gives off depends on what it is made of; old paint may hold lead",
        "Know the coating's safety data sheet.",
    ),
    Hazard(
        ("mirror", "mirrored", "polished", "copper", "aluminium", "aluminum"),
        WARN,
        "a surface that reflects",
        "it may throw the beam back into the machine or out of it",
        "Burn it from the dull side, only in a closed machine, and as its manual allows.",
        REFLECTION,
    ),
    Hazard(
        ("plastic", "foam", "unknown", "resin", "rubber"),
        WARN,
        "something that its name does not tell",
        "nobody can say what its smoke holds",
        "Find out what it is, and say so with made_of; burn nothing that nobody can name.",
    ),
)
"""Rows in the order in which they are asked: a word counts for the first row that has it."""


NO_CHLORIDE = ("vinyl acetate", "vinyl alcohol")
"""What has vinyl in its chemical name and no chlorine: EVA foam, water-soluble film."""


def hazards_of(material: Material) -> tuple[Hazard, ...]:
    """Rows that apply to a material, by what it is made of, or else by its name."""
    said = " / ".join(material.made_of or (material.name,)).lower()
    said = re.sub(r"(?<=\d)mm", " ", said)  # "2mmPVC"
    for word in NO_CHLORIDE:
        said = re.sub(_pattern(word), " ", said)
    found: list[Hazard] = []
    for hazard in HAZARDS:
        hits = [word for word in hazard.words if _is_said(word, said)]
        if hits:
            found.append(hazard)
            for word in hits:
                said = re.sub(_pattern(word), " ", said)
    return tuple(found)


def hazard_findings(materials: Sequence[Material]) -> tuple[Finding, ...]:
    """What must be said about materials before anything is burned."""
    return tuple(
        Finding(
            hazard.severity,
            "material/never-burn" if hazard.severity is STOP else "material/needs-care",
            f'"{material.name}" is {hazard.what}: {hazard.why} ({hazard.source}).',
            hazard.remedy,
        )
        for material in materials
        for hazard in hazards_of(material)
    )


def _is_said(word: str, said: str) -> bool:
    return re.search(_pattern(word), said) is not None


def _pattern(word: str) -> str:
    """Whole words only, so that "abs" is not found in "absorbent"; hyphens may be spaces.

    Figures and underscores end a word too: "pvc_3mm".
    """
    body = r"[-\s_]*".join(re.escape(piece) for piece in re.split(r"[-\s]", word))
    after = r"(?!\d)" if word[-1].isdigit() else ""
    # what is free of something is not it: "PVC-free"
    return rf"(?<!{LETTER}){body}(?!{LETTER}){after}(?![-\s_]?free)"


LETTER = r"[^\W\d_]"
