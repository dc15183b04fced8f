"""How quick an order's page is: first paint, drawings seen, reactions, and a sheet's playback.

An order is made here with a drawing of 100,000 straight segments (``_pages_drawing``), beside the
regatta's example, and a plan that nobody made: wavy plates with as many straight pieces of cuts,
and as many moves of engraving over them as make 500,000 in all (``_pages_plan``). Measured are

- the time from dropping a drawing on an order to seeing it with processes and findings, for one of
  the regatta's and for the large one; the processes that read drawings are running by then;
- first paint, and the time until the drawing of the opened order is seen;
- what a hand does on the page, from its event to the frame that answers has been handed over
  (``_pages_order``), with the longest task meanwhile. The same is done to the regatta's order,
  which shows what of it is the computer and the browser;
- playback: frames a second, and the scripts' share of each frame, told apart from what the browser
  then draws (``_pages_playback``).

Chromium runs without a graphics processor, so that everything is drawn in software: with one it is
faster. Other sections of the page show what its plan says of such an order.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any

from benchmarks._pages_order import order_folder, order_opened, reactions, seen
from benchmarks._pages_plan import large_plan
from benchmarks._pages_playback import played, written
from benchmarks._pages_served import chromium, frames_apart_ms, served


def run(argv: list[str]) -> dict[str, Any]:
    """Make orders, drawing and plan, and work the page of each order."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks pages")
    parser.add_argument("--moves", type=int, default=500_000)
    parser.add_argument("--segments", type=int, default=100_000)
    parser.add_argument("--seconds", type=float, default=5.0, help="of playing that are measured")
    parser.add_argument("--times", type=int, default=12, help="that a hand does each thing")
    parser.add_argument("--without-playback", action="store_true")
    options = parser.parse_args(argv)
    plan = large_plan(options.segments, options.moves)
    figures: dict[str, Any] = {
        "moves": len(plan.sheets[0].toolpath),
        "straight segments of the drawing": options.segments,
        "drawn by": "Chromium without a graphics processor",
    }
    with tempfile.TemporaryDirectory() as name:
        folder = order_folder(Path(name), options.segments)
        quay = folder / "orders" / "quay"
        figures |= written(plan, quay)
        with served(folder) as address, chromium() as browser:
            page = browser.new_page()
            apart_ms = frames_apart_ms(page, options.seconds)
            figures["frames a second of an empty page"] = 1000.0 / float(apart_ms.mean())
            page.close()
            figures["drawings dropped"] = list(seen(browser, address, quay / "plates.svg"))
            figures["large order opened"] = list(order_opened(browser, address))
            for order, layer in (("regatta", "Score"), ("quay", "Waves")):
                at = f"{address}/orders/{order}"
                figures[f"hands on the order {order}"] = list(
                    reactions(browser, at, layer, options.times)
                )
            if not options.without_playback:
                figures["playback"] = [
                    {"drawn with": name}
                    | played(browser, f"{address}/orders/quay{query}", plan, options.seconds)
                    for name, query in (
                        ("WebGL in software", "?draw=webgl"),
                        ("plain canvas", ""),
                    )
                ]
    return figures
