"""Lines of a machine program into words.

The grammar is that of the NIST RS274/NGC interpreter, version 3 (Kramer, Proctor & Messina,
NISTIR 6556, 2000, section 3.3): an optional block delete sign, an optional line number, then
words of a letter and a real number; white space and case mean nothing outside comments. Comments
after a semicolon are common practice and not in that report. Expressions, parameters and
line numbers within a line are refused.
"""

from __future__ import annotations

import re

from kerfwright.errors import KerfwrightError

Words = list[tuple[str, float]]

_WORD = re.compile(r"([A-Z])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_BLOCK = re.compile(r"(?:[A-Z][+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))*")
_LINE_NUMBER = re.compile(r"N[0-9]+(?=[A-Z]|$)")
_BAD_WORD = re.compile(r"[A-Z]?[^A-Z]*")


def code_of(line: str, file: str) -> str:
    """Return a line without comments, white space and line number, in upper case.

    A leading block delete sign stays. ``file`` names program and line for errors.

    Raises:
        KerfwrightError: ``program/broken-comment``.

    """
    if "(" in line or ";" in line or ")" in line:
        line = _without_comments(line, file)
    code = "".join(line.split()).upper()
    if code[:1] == "N":
        return _LINE_NUMBER.sub("", code, count=1)
    if code[:2] == "/N":
        return "/" + _LINE_NUMBER.sub("", code[1:], count=1)
    return code


def words_of(code: str, file: str) -> Words:
    """Return letter and number of every word of a bare line.

    Raises:
        KerfwrightError: ``program/unknown-word`` for anything that is not a word.

    """
    if _BLOCK.fullmatch(code) is None:
        block = _BLOCK.match(code)
        rest = code[block.end() if block else 0 :]
        bad = _BAD_WORD.match(rest)
        raise unknown_word((bad.group() if bad else rest)[:20] or rest[:20], file)
    return [(letter, float(number)) for letter, number in _WORD.findall(code)]


def unknown_word(word: str, file: str) -> KerfwrightError:
    """Error for something that stands where a word should."""
    shown = word if word.isascii() and word.isprintable() else ascii(word)[1:-1]
    return KerfwrightError(
        "program/unknown-word",
        file=file,
        thing=f"“{shown}” is no word that Kerfwright knows.",
        remedy="Check that the file is a program in RS-274 words (G-code) and take the word out.",
    )


def _without_comments(line: str, file: str) -> str:
    kept: list[str] = []
    rest = line
    while rest:
        opening = re.search(r"[();]", rest)
        if opening is None:
            kept.append(rest)
            break
        kept.append(rest[: opening.start()])
        if opening.group() == ";":
            break
        closing = rest.find(")", opening.end())
        inside = rest[opening.end() : closing]
        if opening.group() == ")" or closing < 0 or "(" in inside:
            raise KerfwrightError(
                "program/broken-comment",
                file=file,
                thing="a comment's brackets do not match.",
                remedy="Open each comment with “(” and close it with “)” on the same line.",
            )
        rest = rest[closing + 1 :]
    return "".join(kept)
