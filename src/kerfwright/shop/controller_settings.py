"""A controller's own settings, as it lists them, told in the words of a machine file.

Controllers that take G-code commonly list numbered settings as lines such as ``$110=30000.000``:
lengths in mm, rates in mm/min, accelerations in mm/s². The numbers below are those in common use
by open controllers of the dialect ``grbl-type``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kerfwright.findings import Finding, Severity
from kerfwright.shop.machine import Machine

MM_PER_MIN = 60.0


@dataclass(frozen=True, slots=True)
class Setting:
    """What one numbered setting means, and where it goes.

    ``keys`` are keys of a machine file, as in messages; their value is the setting's, divided by
    ``per``. Values outside ``least`` to ``most`` (of the machine file's value) are slips.
    """

    meaning: str
    keys: tuple[str, ...] = ()
    per: float = 1.0
    least: float = 0.0
    most: float = math.inf


def _limits(field: str, place: int) -> tuple[str, ...]:
    """One setting holds for every kind of move: such controllers know no kinds."""
    return tuple(f"{table}.{field}[{place}]" for table in ("travel", "cutting", "scanning"))


SETTINGS: Mapping[int, Setting] = {
    11: Setting("junction deviation, mm", ("junction_deviation_mm",), 1.0, 0.0, 2.0),
    30: Setting("S word of full power", ("controller.full_power_s_word",), 1.0, 1.0, 1e6),
    110: Setting("largest rate x, mm/min", _limits("speed_mm_s", 1), MM_PER_MIN, 1.0, 10_000.0),
    111: Setting("largest rate y, mm/min", _limits("speed_mm_s", 2), MM_PER_MIN, 1.0, 10_000.0),
    120: Setting("acceleration x, mm/s²", _limits("acceleration_mm_s2", 1), 1.0, 1.0, 200_000.0),
    121: Setting("acceleration y, mm/s²", _limits("acceleration_mm_s2", 2), 1.0, 1.0, 200_000.0),
    130: Setting("travel x, mm", ("bed_width_mm",), 1.0, 20.0, 20_000.0),
    131: Setting("travel y, mm", ("bed_height_mm",), 1.0, 20.0, 20_000.0),
}
"""Settings that a machine file has a key for."""

PASSED_OVER: Mapping[int, str] = {
    0: "length of a step pulse",
    1: "time until the motors rest",
    2: "step signals turned round",
    3: "directions turned round",
    4: "enable signal turned round",
    5: "limit switches turned round",
    6: "probe turned round",
    10: "what a status report holds",
    12: "arc tolerance, mm",
    13: "reports in inches",
    20: "soft limits",
    21: "hard limits",
    22: "homing",
    23: "homing directions",
    24: "homing rate, slow",
    25: "homing rate, fast",
    26: "homing debounce",
    27: "homing pull-off",
    31: "smallest S word",
    32: "laser mode",
    100: "steps per mm x",
    101: "steps per mm y",
    102: "steps per mm z",
    112: "largest rate z",
    122: "acceleration z",
    132: "travel z",
}
"""Settings that are known and that no machine file needs."""

_LINE = re.compile(r"\$\s*(\d{1,4})\s*=\s*([^\s(;#]+)\s*(.*)")
_COMMENT = re.compile(r"^\s*(?:[;#(\[<].*|ok|\s*)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SettingsRead:
    """A settings list in the words of a machine file."""

    values: Mapping[str, float | int]
    """New values by key."""
    from_setting: Mapping[str, int]
    """Number of the setting that each key is from."""
    findings: tuple[Finding, ...]


def read_settings(lines: Iterable[str], machine: Machine, name: str = "") -> SettingsRead:
    """Read a settings list; whatever is not understood, or cannot be, is reported, not taken.

    ``name`` is the list's name in findings.
    """
    given: dict[int, tuple[float, int]] = {}
    twice: set[int] = set()
    findings: list[Finding] = []

    def note(severity: Severity, slug: str, what: str, remedy: str) -> None:
        findings.append(Finding(severity, f"calibration/{slug}", what, remedy, drawing=name))

    for number, line in enumerate(lines, 1):
        if _COMMENT.fullmatch(line.rstrip("\r\n")):
            continue
        found = _LINE.match(line.strip())
        value = _number(found[2]) if found else None
        if found is None or value is None:
            note(
                Severity.WARN,
                "unknown-setting",
                f'line {number}, "{line.strip()[:60]}", is no setting and was passed over.',
                "Settings stand one a line, such as $110=30000.",
            )
            continue
        code = int(found[1])
        if code in given and given[code][0] != value:
            twice.add(code)
        given[code] = (value, number)

    values: dict[str, float | int] = {}
    from_setting: dict[str, int] = {}
    for code, (value, number) in sorted(given.items()):
        setting = SETTINGS.get(code)
        if code in twice:
            note(
                Severity.WARN,
                "setting-twice",
                f"${code} stands more than once with different values; none was taken.",
                "Keep the one that the controller works with.",
            )
        elif setting is not None:
            there = value / setting.per
            if not setting.least <= there <= setting.most or there < 0.0:
                note(
                    Severity.WARN,
                    "implausible-setting",
                    f"${code}={value:g} ({setting.meaning}) cannot be right and was not taken.",
                    "Look at the controller's own list, and at the unit.",
                )
                continue
            for key in setting.keys:
                values[key] = int(there) if there == int(there) else round(there, 6)
                from_setting[key] = code
        elif code not in PASSED_OVER:
            note(
                Severity.NOTE,
                "unknown-setting",
                f"line {number}: ${code}={value:g} is not known here and was passed over.",
                "Nothing, unless it decides how the machine moves; then change the machine file.",
            )
    findings += _about_laser_mode(given, machine, name)
    if not values:
        note(
            Severity.WARN,
            "unknown-setting",
            "no setting in the list says how the machine moves.",
            "Have the controller list its settings, and save what it answers.",
        )
    return SettingsRead(values, from_setting, tuple(findings))


def _about_laser_mode(
    given: Mapping[int, tuple[float, int]], machine: Machine, name: str
) -> list[Finding]:
    """Settings that no machine file holds, but that programs count on."""
    found = []
    if 32 in given and given[32][0] == 0.0 and machine.controller.dialect == "grbl-type":
        found.append(
            Finding(
                Severity.WARN,
                "calibration/laser-mode-off",
                "$32=0: laser mode is off, and programs of the dialect grbl-type count on it.",
                "Switch it on ($32=1) before a program of this machine is run.",
                drawing=name,
            )
        )
    if 31 in given and given[31][0] > 0.0:
        found.append(
            Finding(
                Severity.WARN,
                "calibration/smallest-power",
                f"$31={given[31][0]:g}: the controller burns no weaker than this S word.",
                "Set it to 0 ($31=0), or weak marks come out stronger than planned.",
                drawing=name,
            )
        )
    return found


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
