"""Damages files the way that transfers, editors and bad exporters do, and worse."""

from __future__ import annotations

import random
from collections.abc import Callable

NUMBERS = (b"0", b"-0", b"1e308", b"-1e-308", b"1e999", b"NaN", b"-1", b"99999999999", b"0.0000001")

SVG_WORDS = (
    *(b"<g>", b"</g>", b"<use href='#a'/>", b"<path d='M0 0'/>", b"&amp;", b"&x;", b"<!--", b"-->"),
    *(b"]]>", b"<![CDATA[", b"<?xml?>", b"style='fill:url(#a)'", b"clip-path='url(#a)'", b"id='a'"),
    *(b"mask='url(#a)'", b"marker-mid='url(#a)'", b"stroke-dasharray='1 0 2'", b"transform='"),
    *(
        b"scale(0)",
        b"skewX(90)",
        b"rotate(1,2)",
        b"100%",
        b"M",
        b"z",
        b"A1 1 0 01 5 5",
        b"viewBox='",
    ),
    *(
        b"<text>Aa</text>",
        b"<image href='data:,'/>",
        b"<svg>",
        b"<style>*{",
        b"}</style>",
        b"'",
        b'"',
    ),
)

DXF_WORDS = (
    *(b"  0\nENDSEC\n", b"  0\nEOF\n", b"  0\nSECTION\n", b"  2\nENTITIES\n", b"  0\nINSERT\n"),
    *(
        b"  0\nLINE\n",
        b"  0\nSPLINE\n",
        b"  0\nHATCH\n",
        b"  5\nFFFF\n",
        b"  8\nCUT\n",
        b"-99\nx\n",
    ),
    *(b" 10\n1e300\n", b" 42\n1e9\n", b" 70\n-1\n", b" 41\n0\n", b"230\n-1.0\n", b"\r\n", b"\x00"),
)

PDF_WORDS = (
    *(
        b" re f ",
        b" q ",
        b" Q ",
        b" cm ",
        b" W n ",
        b" S ",
        b" /X Do ",
        b"stream\n",
        b"endstream\n",
    ),
    *(b"endobj\n", b"1 0 obj\n", b"<<", b">>", b"[", b"]", b"/Length 0", b"/Rotate 90", b"%%EOF"),
)

OTHER_WORDS = (b"\x00", b"\xff\xff", b"IDAT", b"IEND", b"\x89PNG", b"\xff\xd9", b"\x00\x00\xff\xff")


def damaged(data: bytes, words: tuple[bytes, ...], seed: int) -> bytes:
    """Return ``data`` with one to four pieces of damage, the same for the same seed."""
    chance = random.Random(seed)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choice(_WAYS)(data, words, chance)
    return data


_Way = Callable[[bytes, tuple[bytes, ...], random.Random], bytes]


def _flip(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


def _cut_off(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _stretch(data: bytes, chance: random.Random) -> tuple[int, int]:
    at = chance.randrange(len(data) + 1)
    return at, min(at + chance.choice((1, 2, 4, 16, 64, 256)), len(data))


def _take_out(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    low, high = _stretch(data, chance)
    return data[:low] + data[high:]


def _repeat(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    low, high = _stretch(data, chance)
    return data[:high] + data[low:high] * chance.choice((1, 2, 8)) + data[high:]


def _move(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    low, high = _stretch(data, chance)
    at = chance.randrange(len(data) + 1)
    return data[:at] + data[low:high] + data[at:]


def _word(data: bytes, words: tuple[bytes, ...], chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + chance.choice(words) + data[at:]


def _number(data: bytes, _words: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Put an extreme number in the place of one that is there."""
    digits = [n for n, byte in enumerate(data) if 48 <= byte <= 57]
    if not digits:
        return data
    low = high = chance.choice(digits)
    while low > 0 and data[low - 1 : low] in b"+-.0123456789":
        low -= 1
    while high < len(data) and data[high : high + 1] in b".0123456789":
        high += 1
    return data[:low] + chance.choice(NUMBERS) + data[high:]


_WAYS: tuple[_Way, ...] = (_flip, _cut_off, _take_out, _repeat, _move, _word, _number, _number)
