"""Small whole drawings that hold as much of each format as fits, to be damaged."""

from __future__ import annotations

import io

import ezdxf
from ezdxf import units
from PIL import Image

SVG = b"""<?xml version="1.0"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
 width="80mm" height="60mm" viewBox="0 0 80 60">
<style>.cut{fill:none;stroke:#000} #deep>path{fill:rgb(20%,0,0)!important} @media print{g{}}</style>
<defs>
<clipPath id="c"><circle cx="20" cy="20" r="9"/></clipPath>
<mask id="m"><rect width="40" height="40" fill="white"/></mask>
<marker id="k" markerWidth="3" markerHeight="3" orient="auto"><path d="M0 0L3 1.5L0 3z"/></marker>
<linearGradient id="l"><stop offset="0" stop-color="red"/></linearGradient>
<symbol id="s" viewBox="0 0 10 10"><path d="M1 1h8v8h-8z"/></symbol>
</defs>
<g id="cut" class="cut" transform="translate(2,3) rotate(5) scale(1 -1) matrix(1 0 0 -1 0 0)">
<path d="M5 5 l10,0 0 10-10 0zM7 7h3v3H7zm20 0c1 2 3 4 5 1s4-4 6 0q2 3 4 0t4 0a3 2 15 1 0 5 5"/>
<rect x="30" y="30" width="12" height="8" rx="2"/><ellipse cx="60" cy="40" rx="7" ry="4"/>
<polyline points="1,1 2,3 4 5" marker-end="url(#k)"/><line x1="1" y1="50" x2="30" y2="55%"
 stroke-dasharray="3 1" stroke-dashoffset="1"/></g>
<g id="deep" clip-path="url(#c)"><path d="M12 12H30V30z" fill="url(#l)"/></g>
<g mask="url(#m)"><polygon points="10 10 30 10 20 30" style="fill-rule:evenodd"/></g>
<use xlink:href="#s" x="50" y="5" width="12" height="12"/>
<switch><g systemLanguage="xx"><rect width="1" height="1"/></g><circle r="4" cx="70"/></switch>
<svg x="60" y="20" width="10" height="10" viewBox="0 0 20 10" preserveAspectRatio="xMinYMax slice">
<circle cx="5" cy="5" r="4"/></svg>
</svg>
"""

PDF = b"""%PDF-1.4
1 0 obj
<</Type/Catalog/Pages 2 0 R>>
endobj
2 0 obj
<</Type/Pages/Kids[3 0 R]/Count 1>>
endobj
3 0 obj
<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 150]/Contents 4 0 R/Resources<</XObject<</X 5 0 R>>>>>>
endobj
4 0 obj
<</Length 196>>
stream
q 1 0 0 1 10 10 cm 0 0 0 RG 0.5 w 10 10 80 40 re S Q
0.2 0 0 rg 30 30 m 60 30 l 60 60 30 90 20 50 c h f*
q 100 20 40 40 re W n 90 10 m 150 70 l 150 10 l b Q
[4 2] 0 d 10 120 m 180 120 l S q 2 0 0 2 0 0 cm /X Do Q
endstream
endobj
5 0 obj
<</Type/XObject/Subtype/Form/BBox[0 0 50 50]/Matrix[1 0 0 1 5 5]/Length 25>>
stream
0 g 5 5 20 10 re B 3 3 m h
endstream
endobj
trailer
<</Root 1 0 R/Size 6>>
%%EOF
"""


def dxf(release: str, *, binary: bool = False) -> bytes:
    """Return a small DXF drawing with most kinds of entities that the release has."""
    document = ezdxf.new(release, units=units.MM)
    document.layers.add("CUT", color=1)
    block = document.blocks.new("EYE")
    block.add_circle((0, 0), 2)
    block.add_arc((0, 0), 3, 20, 200)
    space = document.modelspace()
    space.add_line((0, 0), (30, 0), {"layer": "CUT"})
    space.add_blockref("EYE", (10, 10), {"xscale": 2, "yscale": -1, "rotation": 30})
    space.add_polyline2d([(0, 0), (5, 0, 0, 0, 0.5), (5, 5)], format="xyseb", close=True)
    space.add_text("Aa", height=3).set_placement((20, 20))
    if release != "R12":
        space.add_lwpolyline([(0, 0, 0, 0, 1), (10, 0), (10, 10, 0, 0, -0.3)], close=True)
        space.add_spline([(0, 0), (5, 9), (9, 0), (14, 5)])
        space.add_ellipse((20, 5), (4, 1), 0.5, 0, 4)
        hatch = space.add_hatch(color=2)
        hatch.paths.add_polyline_path([(0, 0), (9, 0, 0.4), (9, 9)], is_closed=True)
        space.add_mtext("A\\P{\\H2x;b}", {"char_height": 2})
    out = io.BytesIO() if binary else io.StringIO()
    document.write(out, fmt="bin" if binary else "asc")
    data = out.getvalue()
    return data if isinstance(data, bytes) else data.encode("utf-8")


def picture(kind: str) -> bytes:
    """Return a small picture with a light disc on a dark ground, 100 dots an inch."""
    image = Image.radial_gradient("L").resize((24, 16))
    out = io.BytesIO()
    image.save(out, kind, dpi=(100, 100))
    return out.getvalue()
