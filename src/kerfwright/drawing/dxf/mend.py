"""Mends the text of a DXF file that the DXF library cannot read, tag by tag.

A DXF is a row of tags, each a group code and a value on a line of their own (DXF Reference, "Group
Codes in DXF Files"). Small programs that write them get details wrong that do not touch the
drawing; where they do, the entity is left out and told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ezdxf.lldxf.const import DXF12, DXF2000
from ezdxf.tools.codepage import toencoding

from kerfwright.drawing.dxf.sift import sifted

_NAME = re.compile(r"[A-Z_*][A-Z0-9_*]*")
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eEdD][+-]?\d+)?")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")

_KEPT_VARIABLES = ("$ACADVER", "$DWGCODEPAGE", "$INSUNITS", "$MEASUREMENT", "$HANDSEED")

_MARKERS = {
    "LWPOLYLINE": "AcDbPolyline",
    "SPLINE": "AcDbSpline",
    "HATCH": "AcDbHatch",
    "MPOLYGON": "AcDbMPolygon",
    "MTEXT": "AcDbMText",
}
"""Kinds later than release 12, with the subclass marker that the library insists upon."""

_COMMON_CODES = frozenset(
    (5, 6, 8, 48, 60, 62, 67, 102, 284, 330, 360, 370, 390, 410, 420, 430, 440)
)
"""Tags that all entities have in common, and begin with (DXF Reference, common group codes)."""

_POINTS = frozenset((*range(10, 19), 210))
_FRAME = frozenset(("SECTION", "ENDSEC", "TABLE", "ENDTAB", "BLOCK", "ENDBLK", "SEQEND", "EOF"))
_DRAWN = frozenset(("BLOCKS", "ENTITIES"))
_FOLLOWERS = {"POLYLINE": "VERTEX", "INSERT": "ATTRIB"}

Tag = tuple[int, str]


@dataclass(slots=True)
class Mended:
    """A mended file: its ``text``, the ``faults`` in words, and the entities that were ``lost``."""

    text: str
    faults: list[str]
    lost: list[str]


@dataclass(slots=True)
class _Group:
    """Tags from one with code 0 up to the next: an entity, or part of the file's structure."""

    name: str
    tags: list[Tag]
    line: int
    whole: bool = True

    @property
    def label(self) -> str:
        return f"{self.name.lower()} near line {self.line}"


@dataclass(slots=True)
class _Mending:
    faults: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)


def mended_text(data: bytes, *, drawn_alone: bool = False) -> Mended | None:
    """Mend a text DXF; ``None`` if it is a binary one or nothing in it looks like a DXF.

    ``drawn_alone`` keeps only what is drawn, and of that only what the library can load.
    """
    if data.startswith(_UTF16):
        data = data.decode("utf-16", "replace").encode()
        wide = True
    else:
        data, wide = data.removeprefix(b"\xef\xbb\xbf"), False
    if b"\0" in data[:64]:
        return None
    mending = _Mending()
    groups = list(_groups(data.decode("latin-1"), mending))
    if not any(group.name == "SECTION" for group in groups):
        return None
    groups = [_checked(group, mending) for group in groups]
    variables = _header_variables(groups)
    version = variables.get("$ACADVER", [(1, DXF12)])[0][1]
    if version <= DXF12 and any(group.name in _MARKERS for group in groups):
        # what release 12 does not know is read by the rules of the first release that does
        version = DXF2000
        variables["$ACADVER"] = [(1, version)]
    encoding = "utf-8" if wide else _encoding(version, variables, data)
    body = list(_Body(mending).tags(groups))
    if drawn_alone:
        body, lost = sifted(iter(body), version)
        mending.lost += lost
    tags = [*_header(variables), *body, (0, "EOF")]
    text = "".join(f"{code:>3}\n{value}\n" for code, value in tags)
    return Mended(
        text.encode("latin-1").decode(encoding, "surrogateescape"), mending.faults, mending.lost
    )


def _encoding(version: str, variables: dict[str, list[Tag]], data: bytes) -> str:
    """UTF-8 from release 2007 on, before that the code page, if the file states one."""
    if version >= "AC1021":
        return "utf-8"
    if "$DWGCODEPAGE" in variables:
        return toencoding(variables["$DWGCODEPAGE"][0][1])
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _groups(text: str, mending: _Mending) -> Iterator[_Group]:
    lines = re.split("\r\n|\n|\r", text)
    while lines and not lines[-1].strip("\x1a\t "):
        lines.pop()
    at = next((i for i, line in enumerate(lines) if line.strip()), 0)
    group: _Group | None = None
    while at + 1 < len(lines):
        code = _code(lines[at])
        value = lines[at + 1]
        if code == 999:
            at += 2
            continue
        if code is None or (code == 0 and not _NAME.fullmatch(value.strip().upper())):
            mending.faults.append(f"line {at + 1} is not where it belongs")
            if group is not None:
                group.whole = False
            at = _next_start(lines, at)
            continue
        if code == 0:
            if group is not None:
                yield group
            name = value.strip().upper()
            if name == "EOF":
                return
            group = _Group(name, [], at + 1)
        elif group is not None:
            group.tags.append((code, value))
        at += 2
    if group is None:
        return
    if group.name in ("ENDSEC", "ENDTAB"):
        mending.faults.append("its end mark is missing")
        yield group
    else:
        mending.faults.append("it breaks off before its end, the rest is missing")


def _code(line: str) -> int | None:
    try:
        code = int(line)
    except ValueError:
        return None
    return code if -5 <= code <= 1071 else None


def _next_start(lines: list[str], at: int) -> int:
    """Line at which the next entity begins, wherever the pairs of lines have slipped to."""
    for i in range(at, len(lines) - 1):
        if lines[i].strip() == "0" and _NAME.fullmatch(lines[i + 1].strip()):
            return i
    return len(lines)


def _checked(group: _Group, mending: _Mending) -> _Group:
    """Correct the values of a group; one that cannot be corrected is no longer whole."""
    tags: list[Tag] = []
    for code, value in group.tags:
        mended = _value(code, value)
        if mended is None:
            mending.faults.append(f'"{value.strip()}" is not a number, near line {group.line}')
            group.whole = False
        else:
            if mended is not value:
                mending.faults.append(f'"{value.strip()}" is read as {mended}')
            tags.append((code, mended))
    group.tags = tags
    if group.name not in _FRAME and not _pair_points(tags):
        group.whole = False
    return group


def _value(code: int, value: str) -> str | None:
    if 10 <= code <= 59 or 110 <= code <= 149 or 210 <= code <= 239 or 1010 <= code <= 1059:
        return _number(value)
    if 60 <= code <= 79 or 90 <= code <= 99 or 160 <= code <= 179 or 270 <= code <= 299:
        return _whole_number(value)
    if 370 <= code <= 389 or 400 <= code <= 409 or 420 <= code <= 429 or 440 <= code <= 459:
        return _whole_number(value)
    return value


def _number(value: str) -> str | None:
    plain = value.strip()
    try:
        float(plain)
    except ValueError:
        pass
    else:
        return value
    # commas for points and Fortran's exponents, where they can mean nothing else
    plain = plain.replace("D", "E").replace("d", "e")
    if _DECIMAL_COMMA.fullmatch(plain):
        plain = plain.replace(",", ".")
    try:
        float(plain)
    except ValueError:
        return None
    return plain


def _whole_number(value: str) -> str | None:
    try:
        int(value)
    except ValueError:
        pass
    else:
        return value
    try:
        number = float(value)
    except ValueError:
        return None
    return str(int(number)) if number.is_integer() else None


def _pair_points(tags: list[Tag]) -> bool:
    """Put y behind x where other tags stand between them; false where there is no y."""
    for i in range(len(tags)):
        code = tags[i][0]
        if code not in _POINTS or (i + 1 < len(tags) and tags[i + 1][0] == code + 10):
            continue
        place = next((j for j in range(i + 1, len(tags)) if tags[j][0] == code + 10), None)
        if place is None:
            return False
        tags.insert(i + 1, tags.pop(place))
    return True


def _header_variables(groups: list[_Group]) -> dict[str, list[Tag]]:
    """What of the header is needed to read the drawing."""
    variables: dict[str, list[Tag]] = {}
    for group in groups:
        if group.name == "SECTION" and group.tags[:1] == [(2, "HEADER")]:
            name = ""
            for code, value in group.tags[1:]:
                if code == 9:
                    name = value.strip()
                elif name in _KEPT_VARIABLES:
                    variables.setdefault(name, []).append((code, value.strip()))
    return variables


def _header(variables: dict[str, list[Tag]]) -> Iterator[Tag]:
    yield from ((0, "SECTION"), (2, "HEADER"))
    for name, values in variables.items():
        yield 9, name
        yield from values
    yield 0, "ENDSEC"


class _Body:
    """All sections but the header, each part of the structure closed where its end is missing."""

    def __init__(self, mending: _Mending) -> None:
        self._mending = mending
        self._section = ""
        self._block = False
        self._leader = ""

    def tags(self, groups: list[_Group]) -> Iterator[Tag]:
        """Tags of whole groups, in order."""
        for group in groups:
            yield from self._closing(group.name)
            if self._is_kept(group):
                yield 0, group.name
                yield from _with_markers(group)
        yield from self._closing("SECTION")

    def _closing(self, name: str) -> Iterator[Tag]:
        """Ends that have to come before a group of this name, and are missing."""
        if self._leader and name not in (_FOLLOWERS[self._leader], "SEQEND"):
            if self._leader == "POLYLINE":
                self._mending.faults.append("the end of a polyline is missing")
            yield from ((0, "SEQEND"), (8, "0"))
            self._leader = ""
        if self._block and name in ("SECTION", "ENDSEC", "BLOCK"):
            self._mending.faults.append("the end of a block is missing")
            yield 0, "ENDBLK"
            self._block = False
        if self._section and name == "SECTION":
            yield 0, "ENDSEC"
            self._section = ""

    def _is_kept(self, group: _Group) -> bool:
        name = group.name
        if name == "SECTION":
            self._section = next((value.strip() for code, value in group.tags if code == 2), "")
            if self._section == "HEADER":
                self._section = ""
            return bool(self._section)
        if not self._section:
            return False
        if not group.whole and name not in _FRAME:
            if self._section in _DRAWN:
                self._mending.lost.append(group.label)
            return False
        if name in ("VERTEX", "SEQEND") and not self._leader:
            return False
        if name == "ENDSEC":
            self._section = ""
        if name in ("BLOCK", "ENDBLK"):
            self._block = name == "BLOCK"
        if name == "SEQEND":
            self._leader = ""
        elif name == "POLYLINE" or (name == "INSERT" and (66, "1") in _stripped(group.tags)):
            self._leader = name
        return True


def _stripped(tags: list[Tag]) -> list[Tag]:
    return [(code, value.strip()) for code, value in tags]


def _with_markers(group: _Group) -> list[Tag]:
    marker = _MARKERS.get(group.name)
    if marker is None or any(code == 100 for code, _ in group.tags):
        return group.tags
    first = next((i for i, (c, _) in enumerate(group.tags) if c not in _COMMON_CODES), 0)
    own = [tag for tag in group.tags[:first] if tag[0] in (5, 330)]
    common = [tag for tag in group.tags[:first] if tag[0] not in (5, 330, 102, 360)]
    return [*own, (100, "AcDbEntity"), *common, (100, marker), *group.tags[first:]]
