"""Small PDF documents written by hand (ISO 32000-1, annex H has the smallest ones)."""

from __future__ import annotations

from collections.abc import Sequence


def stream(entries: str, content: str | bytes) -> bytes:
    """A stream object: dictionary entries and data."""
    data = content.encode("latin-1") if isinstance(content, str) else content
    return b"<<%s /Length %d>>\nstream\n%s\nendstream" % (entries.encode(), len(data), data)


def document(
    *contents: str,
    resources: str = "",
    page: str = "/MediaBox [0 0 400 300]",
    objects: Sequence[str | bytes] = (),
    catalog: str = "",
    trailer: str = "",
) -> bytes:
    """A document with a page for each of ``contents``.

    All pages share ``resources`` and the page entries ``page``. ``objects`` are numbered from 10,
    so that resources may refer to ``10 0 R`` and on.
    """
    count = len(contents)
    numbered: dict[int, bytes] = {
        1: f"<</Type /Catalog /Pages 2 0 R {catalog}>>".encode(),
        10 + len(objects): b"null",
    }
    for i, body in enumerate(objects):
        numbered[10 + i] = body if isinstance(body, bytes) else body.encode("latin-1")
    kids = []
    for i, content in enumerate(contents):
        first = 11 + len(objects) + 2 * i
        kids.append(f"{first} 0 R")
        numbered[first] = (
            f"<</Type /Page /Parent 2 0 R /Contents {first + 1} 0 R "
            f"/Resources <<{resources}>> {page}>>"
        ).encode()
        numbered[first + 1] = stream("", content)
    numbered[2] = f"<</Type /Pages /Kids [{' '.join(kids)}] /Count {count}>>".encode()
    out, places = b"%PDF-1.7\n", {}
    for number in sorted(numbered):
        places[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, numbered[number])
    table, size = len(out), max(numbered) + 1
    out += b"xref\n0 %d\n" % size
    for number in range(size):
        if number in places:
            out += b"%010d 00000 n \n" % places[number]
        else:
            out += b"0000000000 65535 f \n"
    entries = b"/Size %d /Root 1 0 R %s" % (size, trailer.encode())
    return out + b"trailer\n<<%s>>\nstartxref\n%d\n%%%%EOF\n" % (entries, table)


HELVETICA = "<</Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding>>"
