"""Fills the page templates; whatever is put into them is escaped."""

from __future__ import annotations

from functools import lru_cache
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from kerfwright.decisions import Alternative, Decision
from kerfwright.findings import Finding
from kerfwright.output.expected_times import duration_range, rough_duration
from kerfwright.output.text import (
    area,
    duration,
    energy,
    length,
    printable,
    printable_lines,
    short_number,
)


def render(template: str, **values: object) -> str:
    """Fill a template of ``output/templates``."""
    return _environment().get_template(template).render(values)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("kerfwright.output", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        finalize=lambda value: printable(value) if type(value) is str else value,
    )
    environment.filters |= {
        "duration": lambda seconds: _unbroken(duration(seconds)),
        "rough": lambda seconds: _unbroken(rough_duration(seconds)),
        "range": lambda expected: _unbroken(duration_range(expected.low_s, expected.high_s)),
        "number": short_number,
        "length_words": lambda length_mm: _unbroken(length(length_mm)),
        "area_words": lambda area_mm2: _unbroken(area(area_mm2)),
        "energy_words": lambda energy_j: _unbroken(energy(energy_j)),
        "costs": _costs,
        "share": _share,
        "capital": _capital,
        "sentence": _sentence,
        "more_places": _more_places,
        "lines": _lines,
        "help_link": _help_link,
        "file_link": lambda name: quote(name.encode("utf-8", "replace"), safe="/"),
    }
    return environment


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _sentence(words: str) -> str:
    """Begin with a capital and end with a full stop, as far as the words do not already."""
    words = words.strip()
    return _capital(words) + ("." if words and words[-1] not in ".!?…:" else "")


def _more_places(finding: Finding) -> bool:
    """Whether a finding stands for several places and does not say so itself."""
    return finding.count > 1 and str(finding.count) not in finding.what


def _unbroken(words: str) -> str:
    """Keep a number and its unit on one line."""
    return words.replace(" ", "\N{NO-BREAK SPACE}")


def _costs(way: Alternative) -> list[str]:
    """Every cost of a way that was computed."""
    costs = []
    if way.time_s is not None:
        costs.append(_unbroken(duration(way.time_s)))
    if way.length_mm is not None:
        costs.append(_unbroken(length(way.length_mm)))
    if way.material_mm2 is not None:
        costs.append(_unbroken(area(way.material_mm2)))
    if way.money is not None:
        costs.append(way.money)
    return costs


def _share(way: Alternative, decision: Decision) -> str | None:
    """Time of a way in per cent of the slowest, where there is something to compare."""
    times = [other.time_s for other in decision.alternatives if other.time_s is not None]
    if way.time_s is None or len(times) < 2 or not 0.0 < max(times) < float("inf"):
        return None
    return f"{100.0 * way.time_s / max(times):.1f}"


def _lines(text: str) -> Markup:
    return Markup("<br>").join(escape(line) for line in printable_lines(text).split("\n"))


def _help_link(code: str) -> str:
    page, _, heading = code.partition("/")
    return f"help/{quote(page, safe='')}.html" + (f"#{quote(heading, safe='')}" if heading else "")
