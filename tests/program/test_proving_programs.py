"""A right program is proven, and every way of spoiling it is found."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, box

import planned_square as tile
from kerfwright.geometry.paths import Path
from kerfwright.output.gcode import gcode_lines
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Dialect
from kerfwright.toolpath import MoveArray, MoveKind, Process, join

BOTH = pytest.mark.parametrize("dialect", list(Dialect))
Lines = list[str]


def written(sheet: PlannedSheet, dialect: Dialect = Dialect.GRBL_TYPE) -> Lines:
    return list(gcode_lines(sheet, tile.machine(dialect)))


def faults(
    sheet: PlannedSheet,
    lines: Lines | None = None,
    dialect: Dialect = Dialect.GRBL_TYPE,
) -> tuple[str, ...]:
    machine = tile.machine(dialect)
    program = interpret(written(sheet, dialect) if lines is None else lines, machine)
    return verify(program, sheet, machine)


@BOTH
@pytest.mark.parametrize("decimals", [2, 3, 5])
def test_a_right_program_has_no_faults(dialect: Dialect, decimals: int) -> None:
    machine = tile.machine(dialect, decimals=decimals)
    sheet = tile.sheet()
    assert verify(interpret(gcode_lines(sheet, machine), machine), sheet, machine) == ()


def with_text(old: str, new: str, count: int = 0) -> Callable[[Lines], Lines]:
    """Replace by a pattern over the whole program; the pattern must occur."""

    def change(lines: Lines) -> Lines:
        text, made = re.subn(old, new, "\n".join(lines), count=count, flags=re.MULTILINE)
        assert made > 0, f"nothing to spoil: {old}"
        return text.split("\n")

    return change


def without_middle_rows(lines: Lines) -> Lines:
    return [line for line in lines if not 216 <= row_of(line) < 222]


def row_of(line: str) -> int:
    """Engraving rows lie on y 15.05, 15.15 ...; their lines name y only where it changes."""
    found = re.search(r"Y(1[5-9]\.\d5)$", line)
    return round(float(found.group(1)) * 10) if found else -1


def scaled_numbers(words: str, factor: float) -> Callable[[Lines], Lines]:
    def change(lines: Lines) -> Lines:
        pattern = re.compile(rf"([{words}])(-?\d+(?:\.\d+)?)")
        return [
            line
            if line.startswith("(")
            else pattern.sub(lambda m: f"{m[1]}{float(m[2]) * factor:.3f}", line)
            for line in lines
        ]

    return change


def moved_x(lines: Lines) -> Lines:
    return [
        line
        if line.startswith("(")
        else re.sub(r"X(-?[\d.]+)", lambda m: f"X{float(m[1]) + 1.0:.3f}", line)
        for line in lines
    ]


GRBL_SPOILED: dict[str, tuple[Callable[[Lines], Lines], str]] = {
    "one side of the outline left out": (
        with_text(r"^(X9\.9)\nY9\.9$", r"\1"),
        "wanted cut line is, for about 30",
    ),
    "score left out": (with_text(r"^G1 X37 S200.*\n", ""), "wanted score line"),
    "score burned there and back": (
        with_text(r"^(G1 X37 S200.*)\n", r"\1\nX13\n"),
        "burned twice instead of once",
    ),
    "beam left on while travelling": (
        with_text(r"^G0 X9\.9 Y9\.9 S0$", "X9.9 Y9.9"),
        "where nothing is wanted",
    ),
    "more power than the recipe": (with_text(r"S800 F900", "S950 F900"), "the recipe says 80.0%"),
    "more power than there is": (with_text("S800", "S1200"), "120.0% of full power"),
    "less power than the recipe": (with_text("S200", "S150"), "score is burned at 15.0%"),
    "slower than the recipe": (with_text("F900", "F600"), "cut is burned at 80.0% and 10.00"),
    "faster than the machine": (with_text("F24000", "F90000"), "above what the machine"),
    "travel off the bed": (with_text(r"^(G0 X14\.1 .*)", r"G0 X310 Y20 S0\n\1"), "outside the bed"),
    "burn beyond the sheet": (
        with_text(r"^M5 S0\nM2", "G0 X90 Y70 S0\nG1 X105 S800\nM5 S0\nM2"),
        "outside the sheet",
    ),
    "burn where nothing is": (
        with_text(r"^M5 S0\nM2", "G0 X60 Y60 S0\nG1 X62 S800\nM5 S0\nM2"),
        "where nothing is wanted",
    ),
    "no M5 at the end": (with_text(r"^M5 S0\nM2", "M2"), "not switched off"),
    "no M2": (with_text(r"^M2$", ""), "without M2"),
    "file cut short": (lambda lines: lines[: len(lines) // 2], "cut short"),
    "a row left out": (with_text(r"^Y17\.15\nX35\nX25 S350\nX23 S0\n", ""), "lines are missing"),
    "everything 1 mm to the right": (moved_x, "where nothing is wanted"),
    "inches": (with_text("G21", "G20"), "millimetres"),
    "no units": (with_text("G21 ", ""), "millimetres"),
    "relative positions": (with_text("G90", "G91"), "absolute"),
    "no distance mode": (with_text("G90 ", ""), "absolute"),
    "twice the size": (scaled_numbers("XY", 2.0), "where nothing is wanted"),
    "0.3 % too large": (scaled_numbers("XY", 1.003), "where nothing is wanted"),
    "constant power": (with_text("M4", "M3"), "runs the beam in M3"),
    "beam state unknown at the start": (
        with_text(r"^M5 S0\nM4 S0", "M4 S100"),
        "before it moves",
    ),
    "start unknown": (with_text(r"^G0 X23 Y15\.05", "G0 X23"), "where the beam is"),
    "a line that may be skipped": (with_text(r"^X9\.9$", "/X9.9"), "left out at the machine"),
    "beam on in a wait": (
        lambda lines: with_text("M4", "M3")(with_text(r"^(Y40\.1)$", r"\1\nG4 P1")(lines)),
        "waits with the beam on",
    ),
}


@pytest.mark.parametrize("name", GRBL_SPOILED)
def test_a_spoiled_program_is_found(name: str) -> None:
    spoil, said = GRBL_SPOILED[name]
    sheet = tile.sheet()
    found = faults(sheet, spoil(written(sheet)))
    assert any(said in fault for fault in found), found


PLAIN_SPOILED: dict[str, tuple[Callable[[Lines], Lines], str]] = {
    "beam on in a rapid move": (with_text(r"^M5\n(G0 X14)", r"\1"), "on in a rapid move"),
    "beam on in run-up": (with_text(r"^M5\nX37$", "X37", count=1), "where nothing is wanted"),
    "no M5 at the end": (with_text(r"^M5 S0\nM2", "M2"), "not switched off"),
    "no M2": (with_text(r"^M2$", ""), "without M2"),
    "too much power": (with_text("M3 S800", "M3 S1000"), "the recipe says 80.0%"),
    "a score missing": (with_text(r"^M3 S200\n", ""), "wanted score line is not burned"),
    "a wait while burning": (with_text(r"^(M3 S800)$", r"\1\nG4 P2"), "waits with the beam on"),
    "beam on before the first move": (with_text(r"^M5 S0\nG0", "M3 S300\nG0"), "before it moves"),
}


@pytest.mark.parametrize("name", PLAIN_SPOILED)
def test_a_spoiled_plain_program_is_found(name: str) -> None:
    spoil, said = PLAIN_SPOILED[name]
    sheet = tile.sheet()
    found = faults(sheet, spoil(written(sheet, Dialect.RS274_NGC)), Dialect.RS274_NGC)
    assert any(said in fault for fault in found), found


def test_faults_name_the_line_of_the_program() -> None:
    sheet = tile.sheet()
    lines = with_text("S200", "S150")(written(sheet))
    number = next(i for i, line in enumerate(lines, start=1) if "S150" in line)
    assert faults(sheet, lines)[0].startswith(f"Line {number}: ")


def block(name: str) -> MoveArray:
    return {
        "rows": tile.rows,
        "score": tile.score,
        "hole": lambda: tile.loop(tile.HOLE_CUT),
        "outline": lambda: tile.loop(tile.OUTLINE_CUT),
    }[name]()


@pytest.mark.parametrize("late", ["rows", "score", "hole"])
def test_nothing_may_be_burned_in_a_freed_part(late: str) -> None:
    order = [name for name in ("rows", "score", "hole") if name != late]
    sheet = tile.sheet(join([block(name) for name in (*order, "outline", late)]))
    found = faults(sheet)
    assert len(found) == 1, found
    assert "already cut free" in found[0]


def test_a_part_in_a_hole_comes_before_the_hole() -> None:
    inner = tile.closed([(15.5, 15.5), (18.5, 15.5), (18.5, 18.5), (15.5, 18.5)])
    inner_cut = tile.loop([(15.4, 15.4), (18.6, 15.4), (18.6, 18.6), (15.4, 18.6)])
    good = tile.sheet()
    intended = replace(good.intended, cuts=(*good.intended.cuts, inner))
    early = join([block("rows"), block("score"), inner_cut, block("hole"), block("outline")])
    late = join([block("rows"), block("score"), block("hole"), inner_cut, block("outline")])
    assert faults(tile.sheet(early, intended=intended)) == ()
    assert "already cut free" in faults(tile.sheet(late, intended=intended))[0]


def test_cuts_on_the_wanted_line_leave_the_part_too_small() -> None:
    moves = join([block("rows"), block("score"), block("hole"), tile.loop(tile.OUTLINE)])
    assert "where nothing is wanted" in faults(tile.sheet(moves))[0]


def test_cuts_inside_the_outline_are_found() -> None:
    inside = [(10.1, 10.1), (39.9, 10.1), (39.9, 39.9), (10.1, 39.9)]
    moves = join([block("rows"), block("score"), block("hole"), tile.loop(inside)])
    assert "where nothing is wanted" in faults(tile.sheet(moves))[0]


def test_a_cut_burned_with_the_settings_of_a_score_is_found() -> None:
    hole = tile.burn([*tile.HOLE_CUT, tile.HOLE_CUT[0]], MoveKind.SCORE, tile.SCORE)
    moves = join([block("rows"), block("score"), hole, block("outline")])
    assert any("cut is burned at 20.0%" in fault for fault in faults(tile.sheet(moves)))


def test_an_area_never_engraved_is_found() -> None:
    good = tile.sheet()
    dot = box(15.0, 30.0, 16.0, 31.0)
    area = MultiPolygon([*good.intended.area.geoms, dot])
    found = faults(tile.sheet(intended=replace(good.intended, area=area)))
    assert len(found) == 1, found
    assert "of an area is not engraved" in found[0]


@pytest.mark.parametrize("interval", [0.15, 0.2, 0.25])
def test_rows_too_far_apart_are_found(interval: float) -> None:
    wide = tile.rows(interval=interval)
    moves = join([wide, block("score"), block("hole"), block("outline")])
    assert any(
        "apart" in f or "between lines" in f or "missing" in f for f in faults(tile.sheet(moves))
    )


def test_an_area_engraved_twice_is_found() -> None:
    moves = join([block("rows"), block("rows"), block("score"), block("hole"), block("outline")])
    assert any(
        "engraving lines are not burned once" in fault for fault in faults(tile.sheet(moves))
    )


def test_a_few_rows_engraved_twice_are_found() -> None:
    moves = join([tile.rows(), tile.rows()[:12], *map(block, ("score", "hole", "outline"))])
    assert any("11.3% of all engraving lines" in fault for fault in faults(tile.sheet(moves)))


def test_loops_that_meet_in_the_middle_of_a_stroke_are_no_repeat() -> None:
    """A stroke of 15 intervals: the innermost loop of each side runs on that of the other."""
    ring = Point(50, 40).buffer(10.0, 64).difference(Point(50, 40).buffer(8.5, 64))
    loops: list[MoveArray] = []
    for i in range(8):
        left = ring.buffer(-(i + 0.5) * tile.INTERVAL + 1e-4 * (i == 7))
        rings = (left.exterior, *left.interiors)
        loops += [tile.burn(list(r.coords), MoveKind.LOOP, tile.ENGRAVE) for r in rings]
    intended = Intended((), (), MultiPolygon([ring]))
    assert faults(tile.sheet(join(loops), intended=intended)) == ()


def test_every_pass_of_an_engraving_is_counted() -> None:
    recipes = tile.RECIPES | {Process.ENGRAVE: tile.ENGRAVE.model_copy(update={"passes": 2})}
    rest = [block("score"), block("hole"), block("outline")]
    assert faults(tile.sheet(join([block("rows"), block("rows"), *rest]), recipes=recipes)) == ()
    once = faults(tile.sheet(join([block("rows"), *rest]), recipes=recipes))
    assert len(once) == 1
    assert "100.0% of all engraving lines are not burned twice" in once[0]


def test_every_pass_of_a_cut_is_counted() -> None:
    cut = tile.CUT.model_copy(update={"passes": 3})
    recipes = tile.RECIPES | {Process.CUT: cut}
    start = join([block("rows"), block("score"), tile.loop(tile.HOLE_CUT, passes=3)])
    right = join([start, tile.loop(tile.OUTLINE_CUT, passes=3)])
    assert faults(tile.sheet(right, recipes=recipes)) == ()
    short = join([start, tile.loop(tile.OUTLINE_CUT, passes=2)])
    assert any("twice instead of 3 times" in f for f in faults(tile.sheet(short, recipes=recipes)))


def two_squares(shared: bool) -> PlannedSheet:
    """Two 20 mm squares one kerf apart, their neighbouring edges in one cut or in two."""
    left = [(10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0)]
    right = [(x + 20.0 + tile.KERF, y) for x, y in left]
    around_left = [(30.1, 9.9), (9.9, 9.9), (9.9, 30.1), (30.1, 30.1)]
    around_right = [(30.1, 9.9), (50.3, 9.9), (50.3, 30.1), (30.1, 30.1)]
    edge = tile.burn([(30.1, 9.9), (30.1, 30.1)], MoveKind.CUT, tile.CUT)
    pieces = [
        tile.burn(around_left, MoveKind.CUT, tile.CUT),
        edge,
        tile.burn(around_right, MoveKind.CUT, tile.CUT),
    ]
    if not shared:
        pieces.append(edge)
    return tile.sheet(
        join(pieces),
        intended=Intended((tile.closed(left), tile.closed(right)), (), MultiPolygon()),
    )


def test_an_edge_that_two_parts_share_is_burned_once() -> None:
    assert faults(two_squares(shared=True)) == ()
    twice = faults(two_squares(shared=False))
    assert len(twice) == 1, twice
    assert "burned twice instead of once" in twice[0]


def test_edges_may_be_burned_for_each_part_where_the_order_says_so() -> None:
    assert faults(replace(two_squares(shared=False), shared_edges=False)) == ()


@pytest.mark.parametrize("gap", [tile.KERF - 0.06, tile.KERF + 0.06])
@pytest.mark.parametrize("merge_mm", [0.0, 0.1])
def test_cuts_taken_for_one_may_be_off_by_as_much(gap: float, merge_mm: float) -> None:
    exact = two_squares(shared=True)
    left, right = exact.intended.cuts
    apart = Path(right.points + np.array([gap - tile.KERF, 0.0]), closed=True)
    moves = exact.toolpath.moves.copy()
    moves["x_mm"][moves["x_mm"] > 40.0] += gap - tile.KERF
    sheet = tile.sheet(moves, intended=replace(exact.intended, cuts=(left, apart)))
    found = faults(replace(sheet, merge_mm=merge_mm))
    assert (found == ()) == (merge_mm > 0.0), found


def test_parts_without_kerf_are_cut_on_the_line() -> None:
    recipes = {Process.CUT: tile.CUT.model_copy(update={"kerf_mm": 0.0})}
    intended = Intended((tile.closed(tile.OUTLINE),), (), MultiPolygon())
    on_line = tile.sheet(tile.loop(tile.OUTLINE), recipes=recipes, intended=intended)
    assert faults(on_line) == ()
    beside = tile.sheet(tile.loop(tile.OUTLINE_CUT), recipes=recipes, intended=intended)
    assert any("where nothing is wanted" in fault for fault in faults(beside))


def test_a_slit_is_cut_on_its_line_and_frees_nothing() -> None:
    slit = np.array([(12.0, 30.0), (20.0, 30.0)])
    good = tile.sheet()
    intended = replace(good.intended, cuts=(*good.intended.cuts, Path(slit)))
    cut = tile.burn([tuple(p) for p in slit.tolist()], MoveKind.CUT, tile.CUT)
    assert faults(tile.sheet(join([cut, tile.good_moves()]), intended=intended)) == ()
    late = faults(tile.sheet(join([tile.good_moves(), cut]), intended=intended))
    assert any("already cut free" in fault for fault in late)


def star(points: int, inner_mm: float) -> Polygon:
    turn = np.arange(2 * points) * np.pi / points
    radius = np.where(np.arange(2 * points) % 2 == 0, 15.0, inner_mm)
    return Polygon(np.column_stack([50 + radius * np.cos(turn), 40 + radius * np.sin(turn)]))


POINTED = [star(5, 5.0), star(9, 11.0), star(3, 7.4)]


def cut_around(shape: Polygon, corner: str) -> PlannedSheet:
    around = shape.buffer(tile.KERF / 2, join_style=corner, mitre_limit=2.0)
    outline = Path(np.array(shape.exterior.coords)[:-1], closed=True)
    if outline.signed_area_mm2 < 0.0:
        outline = outline.reversed()
    cut = tile.loop([tuple(p) for p in list(around.exterior.coords)[:-1]])
    return tile.sheet(cut, intended=Intended((outline,), (), MultiPolygon()))


@pytest.mark.parametrize("shape", [*POINTED, Point(50, 40).buffer(9)])
@pytest.mark.parametrize("corner", ["mitre", "round"])
def test_mitred_and_rounded_cuts_are_right(shape: Polygon, corner: str) -> None:
    assert faults(cut_around(shape, corner)) == ()


@pytest.mark.parametrize("shape", POINTED)
def test_a_cut_that_bites_off_a_corner_is_found(shape: Polygon) -> None:
    assert any("where nothing is wanted" in fault for fault in faults(cut_around(shape, "bevel")))


def test_work_without_a_recipe_is_a_fault() -> None:
    recipes = {Process.CUT: tile.CUT}
    said = faults(tile.sheet(recipes=recipes))
    assert any("score work but no recipe" in fault for fault in said)
    assert any("engraving work but no recipe" in fault for fault in said)


def test_an_empty_program_proves_nothing() -> None:
    found = faults(tile.sheet(), ["G21 G90 G94 G17", "M5 S0", "M2"])
    assert any("wanted cut line is not burned" in fault for fault in found)
    assert any("100% of an area is not engraved" in fault for fault in found)
