"""Sifts a damaged DXF down to what is drawn, entity by entity.

One entity that the DXF library cannot load makes it refuse the whole file. Here each is loaded by
itself, and only those that can be are kept, with the layers, line types and blocks that they need.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from ezdxf.document import Drawing as Document
from ezdxf.entities import factory
from ezdxf.entities.dxfentity import DXFEntity, DXFTagStorage
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.filemanagement import new
from ezdxf.lldxf.const import DXF12
from ezdxf.lldxf.extendedtags import ExtendedTags

Tag = tuple[int, str]
Entity = list[Tag]
"""Tags of one entity, its type with code 0 first."""

_TABLES = ("LAYER", "LTYPE", "STYLE")
_FOLLOWERS = frozenset(("VERTEX", "ATTRIB", "SEQEND"))
_STRUCTURE = frozenset(("ENDBLK", "ENDSEC", "ENDTAB", "TABLE"))


def sifted(tags: Iterator[Tag], version: str) -> tuple[list[Tag], list[str]]:
    """Tags of the sections that hold the drawing, and the kinds of entities that were lost."""
    document = new("R12" if version <= DXF12 else "R2010")
    kept: list[Entity] = []
    lost: list[str] = []
    section = table = ""
    spoilt = False
    for entity in _entities(tags):
        kind = entity[0][1]
        if kind == "SECTION":
            section, table = _named(entity), ""
            spoilt = False
            if section in ("TABLES", "BLOCKS", "ENTITIES"):
                kept.append(entity)
        elif section == "TABLES":
            table = _named(entity) if kind == "TABLE" else table
            is_entry = kind == table and table in _TABLES and bool(_named(entity))
            if (kind in _STRUCTURE and (table in _TABLES or kind == "ENDSEC")) or (
                is_entry and _loaded(entity, document) is not None
            ):
                kept.append(entity)
        elif section in ("BLOCKS", "ENTITIES"):
            if kind in _FOLLOWERS and spoilt:
                continue
            whole = kind in _STRUCTURE or _is_drawn(entity, document)
            spoilt = not whole
            if whole:
                kept.append(entity)
            else:
                lost.append(kind.lower())
    return list(chain.from_iterable(kept)), lost


def _entities(tags: Iterator[Tag]) -> Iterator[Entity]:
    entity: Entity = []
    for tag in tags:
        if tag[0] == 0 and entity:
            yield entity
            entity = []
        entity.append(tag)
    if entity:
        yield entity


def _named(entity: Entity) -> str:
    return next((value.strip() for code, value in entity if code == 2), "")


def _is_drawn(entity: Entity, document: Document) -> bool:
    if entity[0][1] in ("BLOCK", "INSERT") and not _named(entity):
        return False
    if entity[0][1] in ("BLOCK", "ENDBLK", "SEQEND"):
        return _loaded(entity, document) is not None
    return isinstance(_loaded(entity, document), DXFGraphic | DXFTagStorage)


def _loaded(entity: Entity, document: Document) -> DXFEntity | None:
    text = "".join(f"{code}\n{value}\n" for code, value in entity)
    try:
        return factory.load(ExtendedTags.from_text(text), document)
    except Exception:  # what damaged data makes the DXF library raise has no bounds
        return None
