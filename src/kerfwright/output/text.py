"""Users' words made safe to write into any file, and times and lengths as people say them."""

from __future__ import annotations

import math
import re
from xml.sax.saxutils import escape

_BREAKS = re.compile(r"[\t\n\v\f\r\x85\u2028\u2029]+")
_UNPRINTABLE = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_REORDERING = re.compile("[\u202a-\u202e\u2066-\u2069]")
"""Signs that turn the order of letters round: a name could be made to read as another."""


def printable(text: str) -> str:
    """Return ``text`` on one line, without signs that XML 1.0 forbids or that hide others."""
    return _UNPRINTABLE.sub("\ufffd", _REORDERING.sub("", _BREAKS.sub(" ", text)))


def printable_lines(text: str) -> str:
    """Like :func:`printable`, but keeps the lines apart."""
    return "\n".join(printable(line) for line in text.splitlines())


def shortened(text: str, most: int) -> str:
    """Like :func:`printable`, cut to ``most`` letters where there is only so much room."""
    text = printable(text)
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def encodable(text: str) -> str:
    """Return ``text`` with what cannot be written as UTF-8 replaced."""
    return text.encode("utf-8", "replace").decode("utf-8")


def xml_text(text: str) -> str:
    """Escape a user's words for XML, in content and in quoted attributes."""
    return escape(printable(text), {'"': "&quot;", "'": "&#39;"})


def duration(seconds: float) -> str:
    """Say a time as people read it: ``1 h 02 min``, ``3 min 05 s``, ``42 s``, ``4.2 s``."""
    if not math.isfinite(seconds):
        return "unknown"
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def file_size(size: int) -> str:
    """Say a file's size: in bytes, kB or MB of a thousand."""
    for factor, unit in ((1e6, "MB"), (1e3, "kB")):
        if size >= factor:
            return f"{short_number(size / factor, 1)} {unit}"
    return f"{size} bytes"


def short_number(value: float, decimals: int = 2) -> str:
    """Write a number without needless zeros: ``3``, ``0.18``."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def length(length_mm: float) -> str:
    """Say a length: in mm below a metre, in m above."""
    if length_mm < 1000.0:
        return f"{short_number(length_mm, 1)} mm"
    return f"{short_number(length_mm / 1000.0, 1)} m"


def area(area_mm2: float) -> str:
    """Say an area: in mm² up to 1 cm², in cm² up to a tenth of a square metre, then in m²."""
    if area_mm2 < 100.0:
        return f"{short_number(area_mm2, 1)} mm²"
    if area_mm2 < 1e5:
        return f"{short_number(area_mm2 / 100.0, 1)} cm²"
    return f"{short_number(area_mm2 / 1e6, 3)} m²"


def energy(energy_j: float) -> str:
    """Say an energy: in J below a kilojoule, in kJ above."""
    if energy_j < 1000.0:
        return f"{short_number(energy_j, 1)} J"
    return f"{short_number(energy_j / 1000.0, 1)} kJ"
