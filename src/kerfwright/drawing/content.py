"""What a file's first bytes say it is, whatever its name ends in."""

from __future__ import annotations

import difflib
import re
from enum import StrEnum
from pathlib import Path

from kerfwright.errors import KerfwrightError

HEAD_BYTES = 4096
"""Enough to pass a licence comment or a DOCTYPE; longer ones leave the kind open."""


class Content(StrEnum):
    """A kind of file, in the words of an error message."""

    SVG = "an SVG drawing"
    DXF = "a DXF drawing"
    DWG = "a DWG drawing"
    PDF = "a PDF document"
    PICTURE = "a picture made of dots"
    PACKED = "a packed file"
    XML = "an XML file"
    BINARY = "not a text file and of a kind that is not known here"
    TEXT = "a text file"
    EMPTY = "empty"


_SIGNATURES = (
    (b"%PDF", Content.PDF),
    (b"\x89PNG", Content.PICTURE),
    (b"\xff\xd8\xff", Content.PICTURE),
    (b"GIF8", Content.PICTURE),
    (b"BM", Content.PICTURE),
    (b"II*\x00", Content.PICTURE),
    (b"MM\x00*", Content.PICTURE),
    (b"II+\x00", Content.PICTURE),
    (b"MM\x00+", Content.PICTURE),
    (b"PK\x03\x04", Content.PACKED),
    (b"\x1f\x8b", Content.PACKED),
)
"""First bytes, from the formats' specifications."""

_PATTERNS = (
    # the container's header (RFC 9649, section 2.4)
    (re.compile(rb"RIFF....WEBP", re.DOTALL), Content.PICTURE),
    # readers take a header this far into the file (PDF Reference 1.7, appendix H, note 13)
    (re.compile(rb".{0,1019}%PDF-", re.DOTALL), Content.PDF),
    (re.compile(rb"AC(1[0-9]{3}|[0-9]\.[0-9]{1,2})\0"), Content.DWG),
    # the sentinel of the DXF Reference, "Binary DXF Files"
    (re.compile(rb"\w+ Binary DXF\r\n\x1a\0"), Content.DXF),
)

_SVG_ROOT = re.compile(rb"<(?:[A-Za-z_][\w.-]*:)?svg[\s>/]")
_DXF_COMMENTS = rb"(?:\s*999[^\n\r]*\r?\n[^\n\r]*\r?\n)*"
_DXF_START = re.compile(rb"(?:\xef\xbb\xbf)?" + _DXF_COMMENTS + rb"\s*0\s*\r?\n\s*SECTION\s", re.I)


def content_of(head: bytes) -> Content:
    """Tell the kind of a file from its first :data:`HEAD_BYTES` bytes."""
    if not head.strip():
        return Content.EMPTY
    for signature, content in _SIGNATURES:
        if head.startswith(signature):
            return content
    for pattern, content in _PATTERNS:
        if pattern.match(head):
            return content
    text = _as_ascii(head)
    if _DXF_START.match(text):
        return Content.DXF
    if text.lstrip().startswith(b"<"):
        return Content.SVG if _SVG_ROOT.search(text) else Content.XML
    return Content.BINARY if b"\0" in text else Content.TEXT


def _as_ascii(head: bytes) -> bytes:
    """Strip what UTF-8 and UTF-16 put around plain letters."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[2:].replace(b"\0", b"")
    return head.removeprefix(b"\xef\xbb\xbf")


def head_of(path: Path) -> bytes:
    """Return the first :data:`HEAD_BYTES` bytes of a file; raises as :func:`bytes_of`."""
    return bytes_of(path, HEAD_BYTES)


def bytes_of(path: Path, most: int = -1) -> bytes:
    """Return the first ``most`` bytes of a file, all of them if negative.

    Raises:
        KerfwrightError: there is no such file, it is a folder, may not be read, or is empty.
    """
    try:
        with path.open("rb") as file:
            read = file.read(most)
    except FileNotFoundError:
        code, thing, remedy = "file-missing", "There is no such file.", _nearest(path)
    except IsADirectoryError:
        code, thing, remedy = "not-a-file", "This is a folder.", "Name a drawing in it."
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        code, thing = "unreadable", f"The file cannot be opened ({reason})."
        remedy = "Check its name and that you may read it."
    else:
        if read.strip():
            return read
        code, thing, remedy = "empty-file", "The file is empty.", "Save the drawing again."
    raise KerfwrightError(f"drawing/{code}", file=str(path), thing=thing, remedy=remedy)


def _nearest(path: Path) -> str:
    """Point to the file in the same folder whose name is most like the wanted one."""
    try:
        beside = {entry.name.casefold(): entry.name for entry in path.parent.iterdir()}
    except (OSError, ValueError):
        return "There is no such folder either: check the whole path."
    near = difflib.get_close_matches(path.name.casefold(), list(beside), n=1)
    return f'Did you mean "{beside[near[0]]}"?' if near else "Check name and folder."
