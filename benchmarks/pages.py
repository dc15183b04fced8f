"""How quick an order's page is: first paint, reactions, and frames a second while a sheet plays.

The sheet is made here and planned by nobody: wavy plates with 100,000 straight pieces of cuts, and
as many moves of engraving over them as make 500,000 in all. Chromium runs without a graphics
processor, so that WebGL is worked out in software: with one it is faster. Other sections of the
page show what its plan says of such an order.
"""

from __future__ import annotations

import argparse
import math
import shutil
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import uvicorn
from playwright.sync_api import Browser, sync_playwright
from shapely import MultiPolygon

from benchmarks._machines import trial_machine
from kerfwright.geometry.paths import Path as Line
from kerfwright.motion.timing import time_toolpath
from kerfwright.nesting.model import SheetSize
from kerfwright.output.files import PLAN_FILE, sheet_files
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.parts.model import Part
from kerfwright.plan import Intended, Plan, PlannedSheet
from kerfwright.shop.material import Material, Recipe
from kerfwright.toolpath import (
    BurnSource,
    MoveArray,
    MoveKind,
    Process,
    Toolpath,
    join,
    moves_along,
)
from kerfwright.web.app import guarded, make_app
from kerfwright.web.playback import write_playback
from kerfwright.web.playback_kept import moves_file, playback_file
from kerfwright.web.workshop import Workshop

REGATTA = Path(__file__).parents[1] / "examples" / "regatta"

PIECES = 50
PITCH_MM = 12.0
INTERVAL_MM = 0.1

QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]

FRAMES = """async (seconds) => {
  const times = [];
  await new Promise((done) => {
    const begun = performance.now();
    const frame = (now) => {
      times.push(now);
      if (now - begun < 1000 * seconds) requestAnimationFrame(frame);
      else done();
    };
    requestAnimationFrame(frame);
  });
  return times;
}"""

UNTIL_DRAWN = """async ([what, value, count]) => {
  const stage = document.querySelector(".play-stage");
  const begun = performance.now();
  if (what === "seek") {
    const scrubber = document.getElementById("play-time");
    scrubber.value = value;
    scrubber.dispatchEvent(new Event("input"));
  } else document.querySelector(`button[aria-label="${value}"]`).click();
  const answered = performance.now() - begun;
  await new Promise((done) => {
    const all = () => Number(stage.dataset.drawn) >= count;
    const look = () => (all() ? done() : requestAnimationFrame(look));
    requestAnimationFrame(look);
  });
  const gl = stage.querySelectorAll("canvas")[1].getContext("webgl2");
  gl?.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  return [answered, performance.now() - begun];
}"""

POINTED = """(places) => {
  const stage = document.querySelector(".play-stage");
  const box = stage.getBoundingClientRect();
  const begun = performance.now();
  for (const [x, y] of places) stage.dispatchEvent(new PointerEvent("pointermove",
    { clientX: box.left + x * box.width, clientY: box.top + y * box.height }));
  return (performance.now() - begun) / places.length;
}"""


def run(argv: list[str]) -> dict[str, Any]:
    """Make the sheet and its files, and play it with and without WebGL."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks pages")
    parser.add_argument("--moves", type=int, default=500_000)
    parser.add_argument("--segments", type=int, default=100_000)
    parser.add_argument("--seconds", type=float, default=5.0, help="of playing that are measured")
    options = parser.parse_args(argv)
    plan = _plan(options.segments, options.moves)
    figures: dict[str, Any] = {
        "moves": len(plan.sheets[0].toolpath),
        "straight pieces of outlines": options.segments,
        "drawn by": "Chromium without a graphics processor",
    }
    with tempfile.TemporaryDirectory() as folder:
        order = Path(folder) / "harbour"
        shutil.copytree(REGATTA, order)
        figures |= _written(plan, order / "plan")
        with _served(order) as address, _chromium() as browser:
            figures["frames a second of an empty page"] = _frames(browser, options.seconds)
            figures["pages"] = [
                {"drawn with": name}
                | _played(browser, f"{address}/orders/harbour{query}", plan, options.seconds)
                for name, query in (("WebGL in software", "?draw=webgl"), ("plain canvas", ""))
            ]
    return figures


def _written(plan: Plan, folder: Path) -> dict[str, Any]:
    folder.mkdir()
    document = plan_document(plan, [sheet_files(sheet) for sheet in plan.sheets])
    (folder / PLAN_FILE).write_text(plan_json(document), encoding="utf-8")
    write_playback(plan, folder)
    begun = time.perf_counter()
    write_playback(plan, folder)
    return {
        "write playback, s": time.perf_counter() - begun,
        "moves file, MB": moves_file(folder, 1).stat().st_size / 1e6,
        "playback file, MB": playback_file(folder, 1).stat().st_size / 1e6,
    }


def _played(browser: Browser, address: str, plan: Plan, seconds: float) -> dict[str, Any]:
    count = len(plan.sheets[0].toolpath)
    page = browser.new_page()
    page.set_default_timeout(120_000)
    begun = time.perf_counter()
    page.goto(f"{address}#beam")
    page.locator(".play-stage[data-drawn]").wait_for()
    ready_s = time.perf_counter() - begun
    page.locator(".play-stage").scroll_into_view_if_needed()
    paint_ms = page.evaluate(
        "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"
    )
    seek_ms, seen_ms = page.evaluate(UNTIL_DRAWN, ["seek", 1000, count])
    _, enlarged_ms = page.evaluate(UNTIL_DRAWN, ["press", "Whole sheet", count])
    places = np.random.default_rng(3).random((200, 2)).tolist()
    pointed_ms = page.evaluate(POINTED, places)
    page.evaluate(UNTIL_DRAWN, ["seek", 0, 0])
    page.get_by_role("button", name="Play").click()
    apart_ms = np.diff(page.evaluate(FRAMES, seconds))
    drawn = int(page.locator(".play-stage").get_attribute("data-drawn") or 0)
    page.close()
    return {
        "first paint, ms": paint_ms,
        "playable, s": ready_s,
        "seek answered, ms": seek_ms,
        "all moves drawn, ms": seen_ms,
        "drawn anew, ms": enlarged_ms,
        "pointing, ms": pointed_ms,
        "frames a second": 1000.0 / float(apart_ms.mean()),
        "slowest of 20 frames, ms": statistics.quantiles(apart_ms.tolist(), n=20)[-1],
        "moves played a second": drawn / seconds,
    }


def _frames(browser: Browser, seconds: float) -> float:
    """What the computer has to give: nothing is drawn."""
    page = browser.new_page()
    apart_ms = np.diff(page.evaluate(FRAMES, seconds))
    page.close()
    return 1000.0 / float(apart_ms.mean())


def _plan(segments: int, moves: int) -> Plan:
    machine = trial_machine()
    plates = _plates(segments)
    cuts = join(piece for number, ring in enumerate(plates) for piece in _cut(ring, number))
    side_mm = PITCH_MM * (math.ceil(math.sqrt(len(plates))) + 2)
    rows = _rows(moves - len(cuts), side_mm, len(plates))
    toolpath = Toolpath(join([rows, cuts]))
    sources = [BurnSource(f"plate {n}", 1, Process.CUT, (), "plates") for n in range(len(plates))]
    sources.append(BurnSource("plate 0", 1, Process.ENGRAVE, ("hatch",), "plates"))
    cut = Recipe(machine=machine.name, process="cut", speed_mm_s=16.0, power=0.5, kerf_mm=0.2)
    engrave = Recipe(
        machine=machine.name, process="engrave", speed_mm_s=400.0, power=0.5, interval_mm=0.1
    )
    sheet = PlannedSheet(
        number=1,
        material=Material(name="board", thickness_mm=3.0, invented=True),
        sheet=SheetSize("large", side_mm, side_mm, 1),
        parts=tuple(
            Part(f"plate {n}", "plates.svg", Line(ring, closed=True))
            for n, ring in enumerate(plates)
        ),
        used_fraction=0.5,
        recipes={Process.CUT: cut, Process.ENGRAVE: engrave},
        toolpath=toolpath,
        sources=tuple(sources),
        intended=Intended(cuts=(), scores=(), area=MultiPolygon()),
        times=time_toolpath(toolpath, machine),
        times_by_process_s={},
        items=("plates",) * len(plates),
    )
    return Plan("Plates", machine, (sheet,), (), (), invented=True)


def _plates(segments: int) -> list[Any]:
    random = np.random.default_rng(7)
    count = max(segments // PIECES, 1)
    across = math.ceil(math.sqrt(count))
    angles = np.arange(PIECES) * 2.0 * math.pi / PIECES
    plates = []
    for n in range(count):
        row, column = divmod(n, across)
        radius = 5.0 * (1.0 + random.uniform(0.02, 0.1) * np.sin(random.integers(3, 8) * angles))
        ring = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])
        plates.append(ring + PITCH_MM * np.array([column + 1, row + 1]))
    return plates


def _cut(ring: Any, source: int) -> Iterator[MoveArray]:
    yield moves_along(ring[:1], kind=MoveKind.TRAVEL, speed_mm_s=800.0, power=0.0, source=-1)
    closed = np.vstack([ring[1:], ring[:1]])
    yield moves_along(closed, kind=MoveKind.CUT, speed_mm_s=16.0, power=0.5, source=source)


def _rows(count: int, side_mm: float, source: int) -> MoveArray:
    """Rows back and forth, each of a hundred burns with gaps, a run-up at either end."""
    each = 200
    rows = max(count // each, 0)
    stops = np.linspace(10.0, side_mm - 10.0, each)
    x = np.where(np.arange(rows)[:, None] % 2 == 0, stops, stops[::-1]).ravel()
    y = np.repeat(10.0 + np.arange(rows) * INTERVAL_MM % (side_mm - 20.0), each)
    moves = moves_along(
        np.column_stack([x, y]), kind=MoveKind.RUN_UP, speed_mm_s=400.0, power=0.0, source=source
    )
    burned = np.tile(np.arange(each) % 2 == 1, rows)
    moves["kind"][burned] = MoveKind.ROW
    moves["power"][burned] = 0.5
    return moves


@contextmanager
def _served(folder: Path) -> Iterator[str]:
    app = guarded(make_app(Workshop(folder)))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not (server.started and server.servers):
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)


@contextmanager
def _chromium() -> Iterator[Browser]:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=QUIET)
        try:
            yield browser
        finally:
            browser.close()
