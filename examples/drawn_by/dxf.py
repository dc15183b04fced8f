"""Writing DXF so that the same drawing always gives the same file."""

from __future__ import annotations

import io
import re
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing


def save(document: Drawing, path: Path, note: str) -> None:
    """Write ``document`` with ``note`` among its properties and without dates or writer's marks."""
    document.header.custom_vars.append("Note", note)
    document.classes.add_required_classes(document.dxfversion)
    document.classes.classes = dict(sorted(document.classes.classes.items()))
    ezdxf.options.write_fixed_meta_data_for_testing = True  # type: ignore[attr-defined]
    document.header["$LASTSAVEDBY"] = ""
    stream = io.StringIO()
    document.write(stream)
    text = re.sub(r"^\S+ @ .*$", note, stream.getvalue(), flags=re.MULTILINE)
    for mark, plain in (("_BY_EZDXF", ""), ("EZDXF_META", "DRAWING_NOTES"), ("EZDXF", "NOTES")):
        text = text.replace(mark, plain)
    path.write_text(text, encoding=document.output_encoding)
