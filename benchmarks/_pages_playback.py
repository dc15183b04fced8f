"""One sheet's playback on the order's page: reactions, frames a second, and the work of a frame."""

from __future__ import annotations

import statistics
import time
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Browser

from benchmarks._pages_served import first_paint_ms, frames_apart_ms
from kerfwright.output.files import PLAN_FILE, sheet_files
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.plan import Plan
from kerfwright.shop.files import load_shop
from kerfwright.web.playback import write_playback
from kerfwright.web.playback_kept import moves_file, playback_file
from kerfwright.web.sheet_files import write_sheets

UNTIL_DRAWN = """async ([what, value, count]) => {
  const stage = document.querySelector(".play-stage");
  const begun = performance.now();
  if (what === "seek") {
    const scrubber = document.getElementById("play-time");
    scrubber.value = value;
    scrubber.dispatchEvent(new Event("input"));
  } else document.querySelector(`#beam button[aria-label="${value}"]`).click();
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

SCRIPTED = """() => {
  const real = window.requestAnimationFrame.bind(window);
  window.scripted = null;
  window.requestAnimationFrame = (then) => real((now) => {
    const begun = performance.now();
    then(now);
    if (!window.scripted) return;
    const took = performance.now() - begun;
    const last = window.scripted.at(-1);
    if (last && last[0] === now) last[1] += took;
    else window.scripted.push([now, took]);
  });
}"""
"""Adds up, frame by frame, what the page's own scripts take of it."""


def written(plan: Plan, order: Path) -> dict[str, Any]:
    """Write what an order's page needs of its plan; time and sizes of the playback."""
    folder = order / "plan"
    folder.mkdir()
    document = plan_document(plan, [sheet_files(sheet) for sheet in plan.sheets])
    (folder / PLAN_FILE).write_text(plan_json(document), encoding="utf-8")
    write_sheets(load_shop(order / "order.toml"), plan, folder)
    write_playback(plan, folder)
    begun = time.perf_counter()
    write_playback(plan, folder)
    return {
        "write playback, s": time.perf_counter() - begun,
        "moves file, MB": moves_file(folder, 1).stat().st_size / 1e6,
        "playback file, MB": playback_file(folder, 1).stat().st_size / 1e6,
    }


def played(browser: Browser, address: str, plan: Plan, seconds: float) -> dict[str, Any]:
    """Seek, enlarge, point at and play the only sheet of a plan."""
    count = len(plan.sheets[0].toolpath)
    page = browser.new_page()
    page.set_default_timeout(120_000)
    page.add_init_script(f"({SCRIPTED})()")
    begun = time.perf_counter()
    page.goto(f"{address}#beam")
    page.locator(".play-stage[data-drawn]").wait_for()
    ready_s = time.perf_counter() - begun
    page.locator(".play-stage").scroll_into_view_if_needed()
    paint_ms = first_paint_ms(page)
    seek_ms, seen_ms = page.evaluate(UNTIL_DRAWN, ["seek", 1000, count])
    _, enlarged_ms = page.evaluate(UNTIL_DRAWN, ["press", "Show all", count])
    places = np.random.default_rng(3).random((200, 2)).tolist()
    pointed_ms = page.evaluate(POINTED, places)
    page.evaluate(UNTIL_DRAWN, ["seek", 0, 0])
    page.get_by_role("button", name="Play").click()
    page.evaluate("() => { window.scripted = []; }")
    apart_ms = frames_apart_ms(page, seconds)
    script_ms = [took for _, took in page.evaluate("() => window.scripted")]
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
        "script a frame, ms": statistics.median(script_ms),
        "script of 1 frame in 20, ms": statistics.quantiles(script_ms, n=20)[-1],
        "moves played a second": drawn / seconds,
    }
