"""Opens an SVG file safely: no network, no foreign files, no entity that could grow.

Drawing programs do write a DOCTYPE, and some declare short entities for their namespaces; both
are read. Entities that point outside the file, or are built from other entities, are refused.
"""

from __future__ import annotations

import zlib
from functools import lru_cache
from pathlib import Path
from xml.parsers import expat

from lxml import etree

from kerfwright.drawing.content import bytes_of
from kerfwright.errors import KerfwrightError

SVG_NAMESPACE = "http://www.w3.org/2000/svg"

EXPANSION_LIMIT = 10_000_000
"""Bytes that entities and attribute defaults of one file may grow to."""

UNPACKED_LIMIT = 500_000_000
"""Bytes that a packed (``.svgz``) file may unpack to."""

_SAVE_AGAIN = "Open it in the drawing program and save it again as plain SVG."


class _PrologEndError(Exception):
    """The root element has begun: there is no more DOCTYPE to check."""


def read_root(path: Path) -> etree._Element:
    """Return the root element of an SVG file, plain or gzip-packed.

    Raises :class:`KerfwrightError` for a missing, empty or unreadable file, for one that is not
    XML or not SVG, and for a DOCTYPE that reaches outside the file or could grow.
    """
    file = str(path)
    data = _unpacked(bytes_of(path), file)
    if not data.strip():
        raise KerfwrightError(
            "drawing/empty-file",
            file=file,
            thing="The file is empty.",
            remedy="Save the drawing again.",
        )
    _check_doctype(data, file)
    parser = etree.XMLParser(
        resolve_entities="internal",
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=True,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as fault:
        raise _not_xml(file, getattr(fault, "lineno", None), str(fault)) from None
    if local_name(root) != "svg":
        raise KerfwrightError(
            "drawing/not-svg",
            file=file,
            thing=f"The file is XML but not SVG: its root is <{etree.QName(root).localname}>.",
            remedy="Save the drawing as SVG.",
        )
    return root


def local_name(element: etree._Element) -> str:
    """Name of an SVG element without its namespace; "" for anything that is not SVG's own.

    Files that declare no namespace at all are read as SVG.
    """
    return _local_name(element.tag)


@lru_cache(maxsize=1024)
def _local_name(tag: str) -> str:
    name = etree.QName(tag)
    return name.localname if name.namespace in (None, SVG_NAMESPACE) else ""


def href_of(element: etree._Element) -> str:
    """What an element refers to, by ``href`` or the older ``xlink:href``."""
    return str(
        element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
    ).strip()


def _unpacked(data: bytes, file: str) -> bytes:
    if not data.startswith(b"\x1f\x8b"):
        return data
    unpacker = zlib.decompressobj(wbits=31)
    try:
        unpacked = unpacker.decompress(data, UNPACKED_LIMIT)
        damaged = not (unpacker.eof or unpacker.unconsumed_tail)
    except zlib.error:
        damaged = True
    if damaged:
        raise KerfwrightError(
            "drawing/not-xml",
            file=file,
            thing="The packed file is damaged or cut short.",
            remedy=_SAVE_AGAIN,
        )
    if unpacker.unconsumed_tail:
        raise KerfwrightError(
            "drawing/xml-entity",
            file=file,
            thing=f"The packed file grows beyond {UNPACKED_LIMIT // 1_000_000} MB.",
            remedy=_SAVE_AGAIN,
        )
    return unpacked


def _check_doctype(data: bytes, file: str) -> None:
    """Read only as far as the root element and refuse what a DOCTYPE must not do.

    The parser proper expands entities inside attributes whatever it is told, hence this look
    ahead. Flat entities can still blow up by number, so length times number is bounded.
    """

    def refuse(thing: str) -> None:
        raise KerfwrightError("drawing/xml-entity", file=file, thing=thing, remedy=_SAVE_AGAIN)

    def entity(
        name: str,
        is_parameter: bool,
        value: str | None,
        _base: str | None,
        _system: str | None,
        _public: str | None,
        _notation: str | None,
    ) -> None:
        if is_parameter or value is None:
            refuse(f'Its DOCTYPE declares the entity "{name}", which may reach outside the file.')
        elif "&" in value or "<" in value:
            refuse(f'Its DOCTYPE builds the entity "{name}" from others, which can grow endlessly.')
        elif len(value) * data.count(b"&") > EXPANSION_LIMIT:
            refuse(f'Its entity "{name}" is so long and used so often that it would fill memory.')

    def default(
        element: str, attribute: str, _kind: str, value: str | None, _required: bool
    ) -> None:
        if value is not None and len(value) * data.count(b"<") > EXPANSION_LIMIT:
            refuse(f'Its DOCTYPE gives every <{element}> a huge "{attribute}".')

    def begun(_name: str, _attributes: dict[str, str]) -> None:
        raise _PrologEndError

    scanner = expat.ParserCreate()
    scanner.EntityDeclHandler = entity
    scanner.AttlistDeclHandler = default
    scanner.StartElementHandler = begun
    try:
        scanner.Parse(data, True)
    except _PrologEndError:
        return
    except expat.ExpatError as fault:
        raise _not_xml(file, fault.lineno, expat.ErrorString(fault.code)) from None
    except (LookupError, ValueError):
        raise _not_xml(file, 1, "its text encoding is unknown") from None


def _not_xml(file: str, line: int | None, reason: str) -> KerfwrightError:
    where = f"line {line}" if line else "its beginning"
    return KerfwrightError(
        "drawing/not-xml",
        file=file,
        thing=f"The file is not well-formed XML at {where}: {reason.rstrip('.')}.",
        remedy=_SAVE_AGAIN,
    )
