"""Whatever is wrong in a program's text is found, in several programs and many places."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest

import worked_sheets as worked
from kerfwright.errors import KerfwrightError
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.program.verify import verify

Lines = list[str]
Spoil = Callable[[Lines, Program], Iterator[Lines]]
ALL = pytest.mark.parametrize("name", worked.PROGRAMS)


def followed(name: str, lines: Lines) -> Program:
    return interpret(lines, worked.machine(name))


def found(name: str, lines: Lines) -> bool:
    """Whether the reader refuses the program or the proof finds a fault."""
    try:
        program = followed(name, lines)
    except KerfwrightError as error:
        assert error.code.startswith("program/")
        return True
    return verify(program, worked.sheet(name), worked.machine(name)) != ()


def burn_lines(program: Program, least_mm: float = 2.0) -> list[int]:
    """Lines (from 0) that burn so much."""
    burned: dict[int, float] = {}
    moves = program.toolpath.moves
    for line, length, power in zip(
        program.line_of_move, program.toolpath.lengths_mm, moves["power"], strict=True
    ):
        burned[line - 1] = burned.get(line - 1, 0.0) + length * (power > 0.0)
    return [line for line, length in burned.items() if length >= least_mm]


def some(places: list[int], count: int = 8) -> list[int]:
    """A few of many places, first and last among them."""
    if len(places) <= count:
        return places
    return [places[round(k * (len(places) - 1) / (count - 1))] for k in range(count)]


def at(pattern: str, new: str | Callable[[re.Match[str]], str], count: int = 6) -> Spoil:
    """Replace in one of the lines that have the pattern, comments left out."""

    def spoil(lines: Lines, _: Program) -> Iterator[Lines]:
        places = [k for k, line in enumerate(lines) if line[0] != "(" and re.search(pattern, line)]
        for place in some(places, count):
            changed = re.sub(pattern, new, lines[place], count=1)
            yield [*lines[:place], *([changed] if changed else []), *lines[place + 1 :]]

    return spoil


def everywhere(pattern: str, new: str | Callable[[re.Match[str]], str]) -> Spoil:
    def spoil(lines: Lines, _: Program) -> Iterator[Lines]:
        changed = [line if line[0] == "(" else re.sub(pattern, new, line) for line in lines]
        if changed != lines:
            yield changed

    return spoil


def moved(factor: float, by: float) -> Callable[[re.Match[str]], str]:
    return lambda m: f"{m[1]}{float(m[2]) * factor + by:.3f}"


def missing_line(lines: Lines, program: Program) -> Iterator[Lines]:
    for k in some(burn_lines(program), 20):
        yield lines[:k] + lines[k + 1 :]


def stroke_twice(lines: Lines, program: Program) -> Iterator[Lines]:
    starts = [k for k, line in enumerate(lines) if line.startswith("G0 X")]
    for k in some(starts[:-1]):
        end = min(s for s in [*starts, len(lines) - 4] if s > k)
        if any(k <= line < end for line in burn_lines(program)):
            yield lines[:end] + lines[k:end] + lines[end:]


def cut_short(lines: Lines, program: Program) -> Iterator[Lines]:
    last = burn_lines(program)[-1]
    for share in (0.3, 0.6, 0.9, 1.0):
        yield lines[: round(share * last)]


def outline_first(lines: Lines, program: Program) -> Iterator[Lines]:
    """Move the last stroke, an outline, before everything else."""
    first = next(k for k, line in enumerate(lines) if line.startswith("G0 X"))
    last = max(k for k, line in enumerate(lines) if line.startswith(("G0 X", "G0 Z0", "X")))
    starts = [k for k, line in enumerate(lines) if line.startswith(("G0 X", "G0 Z0"))]
    starts = [k for k in starts if any(k < line for line in burn_lines(program))]
    for k in starts[-1:]:
        yield [*lines[:first], "F900", *lines[k : last + 1], *lines[first:k], *lines[last + 1 :]]


def swapped_neighbours(lines: Lines, program: Program) -> Iterator[Lines]:
    burns = set(burn_lines(program))
    for k in some([k for k in burns if k + 1 in burns]):
        yield [*lines[:k], lines[k + 1], lines[k], *lines[k + 2 :]]


def burn_added(line: str) -> Spoil:
    def spoil(lines: Lines, _: Program) -> Iterator[Lines]:
        end = max(k for k, text in enumerate(lines) if text.startswith("M5 S0"))
        beam = "M3 S800" if "%" in lines else "M4 S800"
        yield [*lines[:end], "M5", line, beam, "G1 X94 F900", *lines[end:]]

    return spoil


def beam_left_on(lines: Lines, program: Program) -> Iterator[Lines]:
    last = burn_lines(program)[-1]
    yield [*lines[:last], *(line for line in lines[last:] if not line.startswith("M5"))]


def end_moved(lines: Lines, program: Program) -> Iterator[Lines]:
    """A cut or score ends 0.3 mm aside; a row, or where an overcut follows, 3 mm."""
    overcut = any(line.startswith("G0 Z0") for line in lines)
    power = dict(zip(program.line_of_move - 1, program.toolpath.moves["power"], strict=True))
    for k in some(burn_lines(program), 24):
        last = overcut and lines[k + 1].startswith(("G0 Z", "M5"))
        by = 3.0 if last or power[k] == worked.tile.ENGRAVE.power else 0.3
        yield [*lines[:k], re.sub(r"([XY])(-?[\d.]+)", moved(1.0, by), lines[k]), *lines[k + 1 :]]


def arc_flipped(lines: Lines, _: Program) -> Iterator[Lines]:
    """One arc runs the other way round; those after it keep theirs."""
    way = ""
    for k, line in enumerate(lines):
        way = line[:2] if line[0] == "G" else way
        if " I" in line and line[0] != "(":
            turned = f"G{5 - int(way[1])} {line.removeprefix(f'{way} ')}"
            after = lines[k + 1]
            yield [*lines[:k], turned, after if after[0] in "GM" else f"{way} {after}",
                   *lines[k + 2 :]]  # fmt: skip


def pierced_again(lines: Lines, program: Program) -> Iterator[Lines]:
    """A second pierce halfway along a straight cut."""
    wait = ["G4 P0.3"] if "%" in lines else ["M3", "G4 P0.3", "M4"]
    for k, line in enumerate(lines):
        if line.startswith("Y34.1") or line == "X40.1":
            half = "Y30" if line[0] == "Y" else "X37"
            yield [*lines[:k], half, *wait, *lines[k:]]
    del program


def pass_left_out(lines: Lines, _: Program) -> Iterator[Lines]:
    """Everything of one focused pass."""
    downs = [k for k, line in enumerate(lines) if line.startswith("G0 Z-")]
    ups = [k for k, line in enumerate(lines) if line.startswith("G0 Z0")][1:]
    for k, up in zip(downs, ups, strict=True):
        yield lines[:k] + lines[up:]


SPOILED: dict[str, Spoil] = {
    "a line left out": missing_line,
    "a stroke burned twice": stroke_twice,
    "cut short": cut_short,
    "an outline before what is in it": outline_first,
    "two lines swapped": swapped_neighbours,
    "beam on in travel, laser mode": at(r"^G0 (X.*) S0$", r"G1 \1"),
    "beam on in travel, plain": at(r"^M5$", ""),
    "more than full power": at(r"S800", "S1300"),
    "too much power": at(r"S(800|350|200)", lambda m: f"S{int(m[1]) * 1.05:.0f}"),
    "too little power": at(r"S(800|350|200)", lambda m: f"S{int(m[1]) * 0.95:.0f}"),
    "too fast": at(r"F(\d+)", lambda m: f"F{int(m[1]) * 1.02:.0f}"),
    "too slow": at(r"F(\d+)", lambda m: f"F{int(m[1]) * 0.98:.0f}"),
    "faster than the machine": at(r"F(\d+)", "F90000"),
    "off the bed": burn_added("G0 X350 Y70"),
    "off the sheet": burn_added("G0 X90 Y90"),
    "burned where nothing is": burn_added("G0 X90 Y70"),
    "no beam off at the end": beam_left_on,
    "no end": everywhere(r"^M2$", "M5"),
    "inches": everywhere("G21", "G20"),
    "no units": everywhere("G21 ", ""),
    "relative": everywhere("G90", "G91"),
    "shifted by 0.2 mm": everywhere(r"(X)(-?[\d.]+)", moved(1.0, 0.2)),
    "shifted by 5 mm": everywhere(r"(Y)(-?[\d.]+)", moved(1.0, 5.0)),
    "0.5 % larger": everywhere(r"([XYIJ])(-?[\d.]+)", moved(1.005, 0.0)),
    "mirrored": everywhere(r"(X)(-?[\d.]+)", moved(-1.0, 100.0)),
    "an end moved": end_moved,
    "a sign lost": at(r"([IJ]-)", lambda m: m[1][0]),
    "M3 for M4": everywhere(r"^M4", "M3"),
    "M4 for M3": everywhere(r"^M3", "M4"),
    "arc the other way": arc_flipped,
    "arc without I": at(r" I-?[\d.]+", "", 20),
    "arc without J": at(r" J-?[\d.]+", "", 20),
    "arc doubled": at(r"^(G[23].*)$", "\\1\n\\1", 20),
    "arc made straight": at(r"^G[23] (X\S+ Y\S+).*", r"G1 \1", 20),
    "pierced too long": at(r"P0\.3", "P0.6", 20),
    "pierced too short": at(r"P0\.3", "P0.1", 20),
    "not pierced": at(r"^G4.*", "", 20),
    "pierced in the middle of a cut": pierced_again,
    "a tab cut, laser mode": at(r"^(G1 )?([XY][\d.]+( Y[\d.]+)?) S0$", r"\1\2", 40),
    "focus not lowered": at(r"^G0 Z-0\.5.*", "", 20),
    "focus lowered twice": at(r"Z-0\.5", "Z-1", 20),
    "focus left down": at(r"^G0 Z0(.*)", r"G0\1", 20),
    "focus not set at the start": everywhere(r"^G0 Z0$", "G0"),
    "focus on the wrong side": at(r"Z-0\.5", "Z0.5", 20),
    "a pass left out": pass_left_out,
    "no air": at(r"^M8$", ""),
    "air left on": at(r"^M9$", ""),
    "air from the start": at(r"^(G17.*)", "\\1\nM8"),
    "a block that may be left out": at(r"^((?:G1 )?X.*)", r"/\1"),
}


def spoiled(what: str, name: str) -> list[Lines]:
    lines = list(worked.lines(name))
    spoilt = SPOILED[what](lines, followed(name, lines))
    return ["\n".join(text).split("\n") for text in spoilt]


@ALL
def test_the_programs_are_right_before_they_are_spoiled(name: str) -> None:
    lines = list(worked.lines(name))
    assert verify(followed(name, lines), worked.sheet(name), worked.machine(name)) == ()


@pytest.mark.parametrize("what", SPOILED)
def test_a_spoiled_program_never_passes(what: str) -> None:
    tried = 0
    for name in worked.PROGRAMS:
        for lines in spoiled(what, name):
            tried += 1
            assert found(name, lines), (name, _difference(list(worked.lines(name)), lines))
    assert tried > 0, "nothing was spoiled"


def _difference(before: Lines, after: Lines) -> str:
    for number, (one, other) in enumerate(zip(before, after, strict=False), start=1):
        if one != other:
            return f"line {number}: {one!r} -> {other!r}"
    return "cut short"
