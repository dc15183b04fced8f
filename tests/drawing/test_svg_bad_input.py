"""A file that cannot be worked with gives one clear error naming file, thing and remedy."""

from __future__ import annotations

import random
import re
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.drawing.svg.read import read_svg
from kerfwright.errors import KerfwrightError

ROOT = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'

BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in pairwise("abcdefghi"))
    + f']>{ROOT}<path d="&i;"/></svg>'
)

NESTED_COPIES = (
    "<defs>"
    + '<g id="c0"><rect width="9" height="9"/></g>'
    + "".join(f'<g id="c{n + 1}">' + f'<use href="#c{n}"/>' * 10 + "</g>" for n in range(12))
    + '</defs><use href="#c12"/>'
)

BAD_FILES = {
    "empty-file": "  \n",
    "not-xml": f"{ROOT}\n<path>\n</svg>",
    "not-svg": "<html><body/></html>",
    "xml-entity": BOMB,
    "empty": f"{ROOT}<text>Hello</text></svg>",
    "bad-viewbox": '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 0 5"/>',
    "too-deep": f"{ROOT}{'<g>' * 400}<rect width='1' height='1'/>{'</g>' * 400}</svg>",
    "too-many-copies": f"{ROOT}{NESTED_COPIES}</svg>",
    "bad-number": f'{ROOT}<rect width="nan" height="5"/></svg>',
    "unknown-unit": f'{ROOT}<rect width="5furlong" height="5"/></svg>',
    "coordinates": f'{ROOT}<circle r="1e6"/></svg>',
    "bad-transform": f'{ROOT}<g transform="rotate(1, 2)"/></svg>',
}

MORE = {
    "text that is not XML": ("not-xml", "0\nSECTION\n2\nHEADER"),
    "a prefix nobody declared": ("not-xml", f'{ROOT}<use xlink:href="#a"/></svg>'),
    "unknown encoding": ("not-xml", '<?xml version="1.0" encoding="klingon"?><svg/>'),
    "external entity": (
        "xml-entity",
        f'<!DOCTYPE svg [<!ENTITY x SYSTEM "/etc/hostname">]>{ROOT}<text>&x;</text></svg>',
    ),
    "parameter entity": (
        "xml-entity",
        f'<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://example.org/x.dtd"> %x;]>{ROOT}</svg>',
    ),
    "long entity used often": (
        "xml-entity",
        f'<!DOCTYPE svg [<!ENTITY x "{"0 " * 50000}">]>{ROOT}<path d="{"&x;" * 500}"/></svg>',
    ),
    "infinite number": ("coordinates", f'{ROOT}<rect width="1e400" height="1"/></svg>'),
    "infinite path": ("bad-number", f'{ROOT}<path d="M 0 0 L inf 3"/></svg>'),
    "not a number in a path": ("bad-number", f'{ROOT}<path d="M 0 0 L NaN 3"/></svg>'),
    "huge number in a path": ("coordinates", f'{ROOT}<path d="M 0 0 L 1e200 3 Z"/></svg>'),
    "point far away": ("coordinates", f'{ROOT}<path d="M 0 0 L 2e5 3 V 9"/></svg>'),
    "arc running far out": ("coordinates", f'{ROOT}<path d="M 0 0 A 1e9 1e9 0 1 1 9 9"/></svg>'),
    "transforms beyond numbers": (
        "coordinates",
        f'{ROOT}<g transform="scale(1e12) scale(1e12)"><rect width="1" height="1"/></g></svg>',
    ),
    "unknown transform": ("bad-transform", f'{ROOT}<g transform="rotate3d(1)"/></svg>'),
    "unknown page unit": (
        "unknown-unit",
        '<svg xmlns="http://www.w3.org/2000/svg" width="5foot" height="5"/>',
    ),
    "no page at all": (
        "coordinates",
        '<svg xmlns="http://www.w3.org/2000/svg" width="0" height="5"/>',
    ),
    "only hidden": ("empty", f'{ROOT}<g display="none"><rect width="9" height="9"/></g></svg>'),
}


def failure(path: Path) -> KerfwrightError:
    with pytest.raises(KerfwrightError) as caught:
        read_svg(path)
    error = caught.value
    assert error.file == str(path)
    assert error.thing
    assert error.remedy
    return error


@pytest.mark.parametrize("slug", BAD_FILES)
def test_each_kind_of_error(tmp_path: Path, slug: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kerfwright.drawing.svg.read.COPIES_LIMIT", 3000)
    file = tmp_path / "bad.svg"
    file.write_text(BAD_FILES[slug], encoding="utf-8")
    assert failure(file).code == f"drawing/{slug}"


@pytest.mark.parametrize("name", MORE)
def test_more_of_the_same_kinds(tmp_path: Path, name: str) -> None:
    slug, text = MORE[name]
    file = tmp_path / "bad.svg"
    file.write_text(text, encoding="utf-8")
    assert failure(file).code == f"drawing/{slug}"


def test_missing_file_and_folder(tmp_path: Path) -> None:
    assert failure(tmp_path / "none.svg").code == "drawing/file-missing"
    assert failure(tmp_path).code == "drawing/not-a-file"


def test_errors_name_line_and_element(tmp_path: Path) -> None:
    file = tmp_path / "bad.svg"
    file.write_text(f'{ROOT}\n\n<rect id="lid" width="5q5" height="1"/></svg>', encoding="utf-8")
    assert '<rect> "lid" in line 3' in failure(file).thing
    file.write_text(f"{ROOT}\n\n<g></svg>", encoding="utf-8")
    assert "line 3" in failure(file).thing


def test_an_empty_drawing_says_what_it_found(tmp_path: Path) -> None:
    file = tmp_path / "bad.svg"
    file.write_text(f"{ROOT}<text>a</text><text>b</text></svg>", encoding="utf-8")
    assert "2 texts are not outlines" in failure(file).thing


def test_short_entities_for_namespaces_are_read(tmp_path: Path) -> None:
    """Drawing programs have long written their namespaces so."""
    file = tmp_path / "drawing.svg"
    file.write_text(
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" '
        '[<!ENTITY ns_svg "http://www.w3.org/2000/svg"> <!ENTITY ink "fill:#123456">]>'
        '<svg xmlns="&ns_svg;" width="9mm" height="9mm"><rect style="&ink;" width="9" height="9"/>'
        "</svg>",
        encoding="utf-8",
    )
    assert read_svg(file).shapes[0].paint.fill == "#123456"


def test_a_flood_of_digits_is_read_in_one_go(tmp_path: Path) -> None:
    """Patterns that try every way of splitting digits would not come back from this."""
    file = tmp_path / "bad.svg"
    for data in ("1" * 20000 + "!", "a " + "1" * 20000, "a" + " 2" * 5000):
        file.write_text(f'{ROOT}<path d="M 0 0 {data}"/></svg>', encoding="utf-8")
        failure(file)
        file.write_text(f'{ROOT}<g transform="scale({data})"/></svg>', encoding="utf-8")
        failure(file)


NESTED_MARKS = (
    "".join(
        f'<marker id="m{n}"><path style="marker:url(#m{n + 1})" d="M0 0h1h1h1h1h1h1h1h1h1"/>'
        "</marker>"
        for n in range(12)
    )
    + '<path style="marker:url(#m0)" d="M0 0h9h9h9h9"/>'
)

NESTED_CLIPS = (
    "".join(
        f'<clipPath id="c{n}" clipPathUnits="objectBoundingBox">'
        + "".join(
            f'<rect width="1" height=".{k}" clip-path="url(#c{n + 1})"/>' for k in range(1, 9)
        )
        + "</clipPath>"
        for n in range(12)
    )
    + '<rect clip-path="url(#c0)" width="9" height="9"/>'
)


@pytest.mark.parametrize("body", [NESTED_MARKS, NESTED_CLIPS])
def test_marks_and_clips_within_one_another_do_not_go_on_for_ever(
    tmp_path: Path, body: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kerfwright.drawing.svg.read.COPIES_LIMIT", 1000)
    file = tmp_path / "bad.svg"
    file.write_text(f"{ROOT}{body}</svg>", encoding="utf-8")
    assert failure(file).code == "drawing/too-many-copies"


SAMPLE = f"""<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE svg [<!ENTITY ink "#123456">]>
{ROOT[:-1]} xmlns:xlink="http://www.w3.org/1999/xlink" preserveAspectRatio="xMidYMax slice">
<style>.a {{ fill: &ink;; stroke: rgb(1,2,3) !important }} g > path[id] {{ opacity: .5 }}
@media print {{ #b {{ stroke-width: 2mm }} }}</style>
<defs><linearGradient id="l"><stop stop-color="red"/></linearGradient>
<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="50%"/></symbol></defs>
<g id="Cut" transform="translate(5 5) rotate(-3.5e1, 2, 2)skewX(3)" font-size="2em">
<path id="b" class="a" d="M1 1c1-2 3.5.5 9 0S5 5 9 9q1 1 2 2t3-3a5 4 20 0113.5.5H4v-3z m 1 1"/>
<rect x="1em" y="5%" width="20" height="10pt" rx="3" style="fill:url(#l) red;stroke-width:.2"/>
<use xlink:href="#s" x="3" y="4" width="20" height="15"/><use href="#b"/>
<polygon points="1,2 3,4-5-6.5.5 8"/><text x="5">Hello</text></g>
<svg x="50" width="20" height="30" viewBox="-5 -5 10 10" preserveAspectRatio="none">
<ellipse rx="5" ry="3" stroke="currentColor" stroke-dasharray="1 2"/></svg>
<clipPath id="c" clipPathUnits="objectBoundingBox" clip-path="url(#d)"><use href="#b"
clip-path="url(#d)"/><circle cx=".5" cy=".5" r=".5"/></clipPath><clipPath id="d" clip-rule="evenodd"
transform="rotate(5)"><path d="M-9-9H99V99H-9zM20 20H30V30z"/></clipPath>
<mask id="m" x="0" y="0" width="100%" height="1"><rect width="80" height="80" fill="white"/>
<path d="M5 5H9V9z" mask="url(#n)"/></mask><mask id="n" maskContentUnits="objectBoundingBox"/>
<marker id="k" viewBox="0 0 9 9" refX="5" refY="50%" markerWidth="3" orient="auto"><path
d="M0 0L9 5H0z" marker-end="url(#k)"/></marker>
<g clip-path="url(#c)" mask="url(#m)"><path d="M10 10H50V60L20 30" fill="none" stroke="red"
stroke-width="2" stroke-dasharray="5 2,1" stroke-dashoffset="3%" pathLength="99"
marker-start="url(#k)" marker-mid="url(#k)"/><image x="5" y="5" width="20" height="9"
preserveAspectRatio="xMinYMax slice" href="data:image/gif;base64,R0lGODlhAQABAAAAACwAAAAAAQABAAAC"/>
</g></svg>
"""

VALUES = [
    *(
        "",
        "0",
        "-1",
        "1e9",
        "1e999",
        "nan",
        "inf",
        "%",
        "mm",
        "em",
        "z",
        "A 1 1 0 1 1",
        "M",
        "none",
    ),
    *("(", ")", "{", "}", ";", ":", "#s", "#b", "#Cut", "inherit", "matrix(0 0 0 0 0 0)", "*", "é"),
]
MARKUP = ["&", "&amp;", "<", ">", '"', "/>", "<g>", "</g>", "<!--", "]]>", "\x00", "url(#l)"]


@settings(max_examples=150)
@given(seed=st.integers(0, 2**32), hits=st.integers(1, 4))
def test_a_damaged_file_is_read_or_refused_but_never_breaks(
    tmp_path_factory: pytest.TempPathFactory, seed: int, hits: int
) -> None:
    file = tmp_path_factory.mktemp("damaged") / "drawing.svg"
    file.write_text(damaged(SAMPLE, random.Random(seed), hits), encoding="utf-8")
    try:
        drawing = read_svg(file)
    except KerfwrightError as error:
        assert error.code.startswith("drawing/")
    else:
        assert drawing.shapes


def damaged(text: str, chance: random.Random, hits: int) -> str:
    """Hit attribute values mostly, since damaged markup never comes past the XML parser."""
    for _ in range(hits):
        spans = [found.span(1) for found in re.finditer(r'="([^"]*)"', text)]
        if spans and chance.random() < 0.9:
            start, end = chance.choice(spans)
            put = chance.choice([*VALUES, text[slice(*chance.choice(spans))]])
        else:
            start, end = 0, len(text) - 1
            put = chance.choice(MARKUP)
        at = chance.randint(start, end)
        gone = min(end - at, chance.choice([0, 0, 1, 2, 9]))
        text = text[:at] + put + text[at + gone :]
    return text


def test_the_sample_for_damage_is_itself_sound(tmp_path: Path) -> None:
    file = tmp_path / "drawing.svg"
    file.write_text(SAMPLE, encoding="utf-8")
    shapes = read_svg(file).shapes
    assert len([shape for shape in shapes if not shape.name.startswith("text")]) == 7
