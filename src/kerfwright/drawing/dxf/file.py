"""Opens DXF files, also damaged ones, with the DXF library."""

from __future__ import annotations

import gc
import logging
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO, StringIO
from pathlib import Path

from ezdxf import recover
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import read, readfile
from ezdxf.lldxf.const import DXFError

from kerfwright.drawing.content import Content, content_of, head_of
from kerfwright.drawing.dxf.findings import DxfTally, printable
from kerfwright.drawing.dxf.mend import mended_text
from kerfwright.errors import KerfwrightError

# The library's own remarks would go to the terminal; what matters of them becomes a finding.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


@contextmanager
def no_collecting() -> Iterator[None]:
    """Let Python's garbage collector rest: it would visit all of a growing document, over and over.

    It saves a sixth of the time for a file of 100,000 lines.
    """
    resting = not gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if not resting:
            gc.enable()


def dxf_document(path: Path, tally: DxfTally) -> Document:
    """Open a DXF file; what had to be mended goes to the tally.

    Raises:
        KerfwrightError: the file is of another kind, or damaged beyond recovery.
    """
    content = content_of(head_of(path))
    # A damaged file may begin with anything, but a file of another kind is told as that.
    if content not in (Content.DXF, Content.TEXT):
        raise KerfwrightError(
            "drawing/dxf-not-a-dxf",
            file=str(path),
            thing=f"The file is not a DXF drawing: it is {content}.",
            remedy="Save the drawing as DXF in the drawing program.",
        )
    try:
        return readfile(path)
    except Exception:  # damaged files make the library raise nearly anything
        return _mended(path, tally, content)


def _mended(path: Path, tally: DxfTally, content: Content) -> Document:
    """Mend a file by its tags; what is still wrong then is left to the library's own recovery.

    Where that gives up too, what is drawn is sifted out, entity by entity.
    """
    data = path.read_bytes()
    mended = mended_text(data)
    if mended is None:
        return _recovered(path, data, tally, content)
    entries: list[str] = []
    try:
        document = read(StringIO(mended.text))
    except Exception:  # as above
        try:
            document, entries = _recovered_document(path, mended.text)
        except KerfwrightError:
            mended = mended_text(data, drawn_alone=True) or mended
            document, entries = _recovered_document(path, mended.text)
    _check_worth(path, document, content)
    for words, times in Counter([*mended.faults, *entries]).items():
        tally.add("dxf-mended-file", detail=printable(words), count=times)
    for label in mended.lost:
        tally.add("dxf-damaged-entity", shape=label, detail=label)
    return document


def _recovered(path: Path, data: bytes, tally: DxfTally, content: Content) -> Document:
    document, entries = _recovered_document(path, data)
    _check_worth(path, document, content)
    for words in entries or ["its structure is damaged"]:
        tally.add("dxf-mended-file", detail=printable(words))
    return document


def _recovered_document(path: Path, data: bytes | str) -> tuple[Document, list[str]]:
    """What the library's recovery makes of a file, and the faults that it tells of."""
    if isinstance(data, str):
        data = data.encode("utf-8", "surrogateescape")
    try:
        document, auditor = recover.read(BytesIO(data))
        len(document.modelspace())
    except Exception as fault:  # as above
        reason = str(fault) if isinstance(fault, DXFError) else "its data makes no sense"
        raise damaged(path, reason) from None
    return document, [entry.message for entry in (*auditor.errors, *auditor.fixes)]


def _check_worth(path: Path, document: Document, content: Content) -> None:
    if content is not Content.DXF and not len(document.modelspace()):
        raise damaged(path, "it does not begin like one, and nothing in it could be recovered")


def damaged(path: Path, reason: str) -> KerfwrightError:
    """The error of a file that cannot be read as a DXF at all."""
    return KerfwrightError(
        "drawing/dxf-damaged",
        file=str(path),
        thing=f"The file cannot be read as a DXF drawing ({printable(reason)}).",
        remedy="Open it in the drawing program and save it again as DXF, release 2000 or later.",
    )
