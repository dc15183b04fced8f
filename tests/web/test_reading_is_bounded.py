"""No drawing hangs or ends the server, whatever it is made of.

Entities that grow are the attack of CWE-776 (XML Entity Expansion), packed files those of CWE-409
(Highly Compressed Data); a PNG's size stands in its header (PNG Specification, section 11.2.1).
"""

from __future__ import annotations

import gzip
import itertools
import os
import struct
import time
import zlib
from pathlib import Path

import pytest
from drawn_shop import SQUARE, begun, client, drawn
from fastapi.testclient import TestClient

from kerfwright.drawing.read import kind_of
from kerfwright.errors import KerfwrightError
from kerfwright.web.reading import Readers

LAUGHS = (
    '<!DOCTYPE svg [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in itertools.pairwise("abcdefghi"))
    + "]>"
    + SQUARE.replace("<path", "<text>&i;</text><path")
)


def huge_png() -> bytes:
    """A picture of 60 000 × 60 000 dots by its header, in a hundred bytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    data = zlib.compress(b"\0" * 1000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )


def bomb() -> bytes:
    """A packed file of 600 MB of spaces in less than one."""
    packer = zlib.compressobj(9, wbits=31)
    spaces = b" " * 10_000_000
    packed = [packer.compress(b"<svg xmlns='http://www.w3.org/2000/svg'>")]
    packed += [packer.compress(spaces) for _ in range(60)]
    return b"".join(packed) + packer.flush()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return client(tmp_path_factory.mktemp("workshop"))


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("laughs.svg", LAUGHS, "drawing/xml-entity"),
        ("huge.png", huge_png(), "drawing/picture-too-large"),
        ("bomb.svgz", bomb(), "drawing/xml-entity"),
    ],
)
def test_a_bomb_is_refused(shop: TestClient, name: str, content: str | bytes, code: str) -> None:
    slug = begun(shop, (name, content))
    answer = shop.get(f"/api/orders/{slug}/items/0/drawing")
    assert (answer.status_code, answer.json()["code"]) == (422, code)


@pytest.mark.parametrize(
    ("depth", "code"), [(1_500, "drawing/too-deep"), (20_000, "drawing/not-xml")]
)
def test_deep_nesting_is_told_of(shop: TestClient, depth: int, code: str) -> None:
    deep = SQUARE.replace("<path", "<g>" * depth + "<path").replace("</svg>", "</g>" * depth)
    slug = begun(shop, ("deep.svg", deep + "</svg>"))
    answer = shop.get(f"/api/orders/{slug}/items/0/drawing")
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert len(drawn(shop, begun(shop, ("a.svg", SQUARE)))["parts"]) == 1


def test_a_packed_drawing_is_read(shop: TestClient) -> None:
    slug = begun(shop, ("packed.svgz", gzip.compress(SQUARE.encode())))
    assert len(drawn(shop, slug)["parts"]) == 1


@pytest.fixture
def readers() -> Readers:
    return Readers(at_once=1, seconds=0.5, memory_bytes=2**30)


def test_what_takes_too_long_is_ended(readers: Readers) -> None:
    readers.start()
    with pytest.raises(KerfwrightError) as told:
        readers.ask("slow.svg", time.sleep, 30.0)
    assert (told.value.code, told.value.file) == ("pages/drawing-takes-too-long", "slow.svg")
    assert readers.ask("next.svg", len, "four") == 4
    readers.close()


def test_what_takes_too_much_memory_is_ended(readers: Readers) -> None:
    with pytest.raises(KerfwrightError) as told:
        readers.ask("large.svg", bytearray, 2**36)
    assert told.value.code == "pages/drawing-needs-too-much"
    assert readers.ask("next.svg", len, "four") == 4
    readers.close()


def test_what_breaks_down_is_told_of(readers: Readers) -> None:
    mine = os.getpid()
    with pytest.raises(KerfwrightError) as told:
        readers.ask("broken.svg", os.abort)
    assert told.value.code == "pages/drawing-needs-too-much"
    assert readers.ask("next.svg", os.getpid) != mine
    with pytest.raises(KerfwrightError) as told:
        readers.ask("odd.svg", int, "no number")
    assert told.value.code == "pages/drawing-not-understood"
    assert "ValueError" in told.value.thing
    readers.close()


def test_an_error_that_is_told_comes_through(tmp_path: Path) -> None:
    readers = Readers(at_once=1, seconds=60.0)
    file = tmp_path / "what.txt"
    file.write_text("words")
    with pytest.raises(KerfwrightError) as told:
        readers.ask("what.txt", kind_of, file)
    assert told.value.code == "drawing/unknown-ending"
    readers.close()
