"""What the pages show of an item's drawing; runs in the processes that read drawings."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image

from kerfwright.cutting.fit import fitted
from kerfwright.drawing.model import Drawing, Picture, Shape
from kerfwright.drawing.read import Choice
from kerfwright.findings import Finding
from kerfwright.geometry.paths import FloatArray
from kerfwright.output.finding_numbers import numbered
from kerfwright.output.inspection import inspected, inspection
from kerfwright.output.plan_json import finding_record
from kerfwright.output.text import printable
from kerfwright.parts.congruence import AlikeParts
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.processes import matches, rule_name, unused_rules
from kerfwright.parts.stamps import stamp_findings
from kerfwright.prepare import Prepared, mended_drawing, taken_apart
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item, Order, Rule, Settings
from kerfwright.toolpath import Process
from kerfwright.web import drawn_lines
from kerfwright.web.drawn_lines import View, view_of
from kerfwright.web.drawn_model import (
    AlikeGroup,
    Caught,
    DrawnItem,
    DrawnLines,
    DrawnPart,
    DrawnPhoto,
    LikeThis,
    PinnedFinding,
    RuleCatch,
)

MOST_GROUPS = 300
"""Kinds of lines that are drawn apart; the rest is drawn by process only."""

MOST_THUMBNAILS = 400

THUMBNAIL_CHARACTERS = 8_000

PHOTO_DOTS = 480
"""Dots along the longer side of a picture as it is shown."""


@dataclass(frozen=True, slots=True)
class Asked:
    """An item and its drawing; ``sha256`` is that of the file, so that a changed one is read."""

    order: Order
    item: Item
    path: Path
    sha256: str

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The item's rules, then the order's."""
        return (*self.item.rules, *self.order.rules)


def drawn_item(
    asked: Asked, shop: Shop | None, digest: str, trouble: dict[str, str] | None = None
) -> bytes:
    """Return a :class:`DrawnItem` as JSON; without a shop its checks are left out.

    ``trouble`` says why there is none.

    Raises:
        KerfwrightError: the file cannot be read as a drawing.
    """
    prepared = _prepared(asked)
    alike, findings = _findings(asked, shop, prepared)
    drawing = prepared.drawing
    view = view_of(drawing)
    record = inspection(drawing, prepared.shapes, prepared.parts, findings, alike)
    shown = DrawnItem(
        digest=digest,
        drawing=printable(drawing.name),
        width_mm=record.width_mm,
        height_mm=record.height_mm,
        view=(round(view.width_mm, view.decimals), round(view.height_mm, view.decimals)),
        page=_page(drawing, view),
        shapes=record.shapes,
        lines=_lines(prepared, view),
        photos=tuple(_photo(picture, view) for picture in drawing.pictures),
        parts=_parts(prepared.parts, alike, view),
        alike=_groups(prepared.parts, alike),
        findings=_pinned(findings, view),
        layers=tuple(sorted({shape.layer for shape in drawing.shapes})),
        rules=_decided(asked, prepared.shapes),
        checked=shop is not None,
        trouble=trouble,
    )
    return shown.model_dump_json().encode("utf-8", "replace")


def caught(asked: Asked, rule: Rule, rules: Sequence[Rule], place: int) -> Caught:
    """Tell what ``rule`` would take if it stood at ``place`` among the other ``rules``."""
    prepared = _prepared(asked)
    now = {id(one.shape): one.process.value for one in prepared.shapes}
    before = rules[:place]
    taken: list[int] = []
    earlier = 0
    shapes = prepared.drawing.shapes
    for number, shape in enumerate(shapes):
        if not matches(rule, shape):
            continue
        if any(matches(one, shape) for one in before):
            earlier += 1
        else:
            taken.append(number)
    was: dict[str, int] = {}
    for number in taken:
        process = now.get(id(shapes[number]), "none")
        was[process] = was.get(process, 0) + 1
    data = _drawn_together(prepared, tuple(taken))
    return Caught(shapes=len(taken), earlier=earlier, of=len(shapes), was=was, d=data)


@lru_cache(maxsize=4)
def _drawn_together(prepared: Prepared, places: tuple[int, ...]) -> str:
    """Lines of some shapes; while a rule's process is chosen, they stay the same."""
    shapes = [prepared.drawing.shapes[place] for place in places]
    lines = drawn_lines.lines_of(shapes, 0)
    return view_of(prepared.drawing).data(lines, 1, drawn_lines.PART_CHARACTERS)[0]


def warm_up() -> None:
    """Load what reading needs, kernels too, by reading a small drawing."""
    import tempfile  # noqa: PLC0415

    small = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">'
        '<path fill="none" stroke="#000" d="M1 1H9V9H1zM9 1H19V9H9zM20 1h5a4 4 0 0 1 4 4v5h-9z'
        'M30 1h5v5h-5M30 1v4.9"/><path d="M2 2h4v4h-4z"/></svg>'
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "small.svg"
        path.write_text(small, encoding="utf-8")
        order = Order(
            title="small",
            machine="machine",
            materials=("material",),
            items=(Item(drawing=path.name, material="material"),),
        )
        drawn_item(Asked(order, order.items[0], path, ""), None, "")


@dataclass(frozen=True, slots=True)
class _Reading:
    """All that reading and mending a drawing depends on."""

    path: Path
    sha256: str
    unit_mm: float | None
    choice: Choice
    settings: Settings


def _prepared(asked: Asked) -> Prepared:
    """An item's drawing taken apart; never mirrored, so that parts lie on their lines."""
    item, settings = asked.item, asked.order.settings
    reading = _Reading(
        asked.path,
        asked.sha256,
        item.unit_mm,
        Choice(item.page, item.width_mm, item.pictures),
        Settings(chord_mm=settings.chord_mm, join_mm=settings.join_mm, gap_mm=settings.gap_mm),
    )
    return _apart(reading, asked.rules, len(item.rules), item.name, item.is_blank)


@lru_cache(maxsize=4)
def _apart(
    reading: _Reading, rules: tuple[Rule, ...], item_rules: int, name: str | None, blank: bool
) -> Prepared:
    drawing = _drawing(reading)
    return taken_apart(drawing, rules=rules, item_rules=item_rules, name=name, blank=blank)


@lru_cache(maxsize=4)
def _drawing(reading: _Reading) -> Drawing:
    return mended_drawing(
        reading.path, unit_mm=reading.unit_mm, choice=reading.choice, settings=reading.settings
    )


def _findings(
    asked: Asked, shop: Shop | None, prepared: Prepared
) -> tuple[tuple[AlikeParts, ...], list[Finding]]:
    """Groups of parts that are alike, and all findings that need no plan."""
    item = asked.item
    unused = unused_rules(item.rules, prepared.shapes, item_rules=len(item.rules))
    findings = [*prepared.findings, *unused]
    if shop is None:
        alike, told = inspected(prepared.parts)
        return alike, [*findings, *told]
    material = shop.material(item.material)
    parts = prepared.parts
    if item.fit_mm is not None:
        parts, told_of_fit = fitted(parts, material.thickness_mm, item.fit_mm)
        findings += told_of_fit
    alike, told = inspected(parts, shop, item)
    stamps = stamp_findings(parts, material, shop.machine, item)
    return alike, [*findings, *told, *stamps]


def _page(drawing: Drawing, view: View) -> tuple[float, float, float, float]:
    x, y = view.at(0.0, drawing.height_mm)
    inside = drawing.width_mm <= view.width_mm and drawing.height_mm <= view.height_mm
    if not inside or x < 0.0 or y < 0.0:
        x, y = 0.0, 0.0
    return x, y, round(drawing.width_mm, 3), round(drawing.height_mm, 3)


_Kind = tuple[str, str, str | None, str | None, str]


def _lines(prepared: Prepared, view: View) -> tuple[DrawnLines, ...]:
    """Shapes that are alike in process, layer and paint, drawn together."""
    kinds = _kinds(prepared)
    lines: list[tuple[int, FloatArray]] = []
    for owner, (kind, shapes) in enumerate(kinds.items()):
        filling: set[str] = set()
        if kind[0] == Process.ENGRAVE.value:
            rings, filling = drawn_lines.area_rings(shapes, 2 * owner + 1)
            lines += rings
        bare = [shape for shape in shapes if shape.name not in filling]
        lines += drawn_lines.lines_of(bare, 2 * owner)
    data = view.data(lines, 2 * len(kinds), drawn_lines.LINE_CHARACTERS)
    return tuple(
        DrawnLines(
            process=process,
            layer=layer,
            fill=fill,
            stroke=stroke,
            decided_by=rule,
            shapes=len(shapes),
            length_mm=round(sum(shape.length_mm for shape in shapes), 1),
            like=LikeThis(layer=_escaped(layer), fill=fill or False, stroke=stroke or False),
            d=data[2 * owner],
            area=data[2 * owner + 1],
        )
        for owner, ((process, layer, fill, stroke, rule), shapes) in enumerate(kinds.items())
    )


def _kinds(prepared: Prepared) -> dict[_Kind, list[Shape]]:
    kinds: dict[_Kind, list[Shape]] = {}
    processed = {id(one.shape) for one in prepared.shapes}
    for one in prepared.shapes:
        shape = one.shape
        key = one.process.value, shape.layer, shape.paint.fill, shape.paint.stroke, one.rule
        if key not in kinds and len(kinds) >= MOST_GROUPS:
            key = one.process.value, "", None, None, "several"
        kinds.setdefault(key, []).append(shape)
    left = [shape for shape in prepared.drawing.shapes if id(shape) not in processed]
    for shape in left:
        key = "none", shape.layer, shape.paint.fill, shape.paint.stroke, "not seen on white paper"
        kinds.setdefault(key, []).append(shape)
    return kinds


def _escaped(layer: str) -> str:
    """A pattern that only this layer's name matches (the rules of ``fnmatch``)."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in layer)


def _photo(picture: Picture, view: View) -> DrawnPhoto:
    rows, columns = picture.grey.shape
    step = max(1, -(-max(rows, columns) // PHOTO_DOTS))
    shown = Image.fromarray(np.ascontiguousarray(picture.grey[::step, ::step]))
    file = io.BytesIO()
    shown.save(file, "PNG", optimize=True)
    corners = view.points(picture.corners_mm)
    (x, y), across, down = corners[0], corners[1] - corners[0], corners[3] - corners[0]
    width_mm, height_mm = picture.size_mm
    return DrawnPhoto(
        name=printable(picture.name),
        layer=picture.layer,
        matrix=tuple(round(float(value), 6) for value in (*across, *down, x, y)),
        width_mm=round(width_mm, 3),
        height_mm=round(height_mm, 3),
        dots=(columns, rows),
        png="data:image/png;base64," + base64.b64encode(file.getvalue()).decode("ascii"),
    )


def _parts(parts: Sequence[Part], alike: Sequence[AlikeParts], view: View) -> tuple[DrawnPart, ...]:
    """All parts with their outlines, and with marks those that stand for a group."""
    if not parts:
        return ()
    outlines = view.data(drawn_lines.part_lines(parts), len(parts), drawn_lines.PART_CHARACTERS)
    followers = {member for group in alike for member in group.members[1:]}
    leaders = [n for n in range(len(parts)) if n not in followers][:MOST_THUMBNAILS]
    marks = {n: _marks(parts[n], view) for n in leaders}
    none = ("", "", "", "")
    return tuple(
        DrawnPart(
            name=printable(part.name),
            d=outlines[n],
            box=(*view.at(box[0], box[3]), *view.at(box[2], box[1])),
            scored=marks.get(n, none)[0],
            engraved=marks.get(n, none)[1],
            slits=marks.get(n, none)[2],
            photos=marks.get(n, none)[3],
        )
        for n, part in enumerate(parts)
        for box in (part.outline.bounds_mm,)
    )


def _marks(part: Part, view: View) -> tuple[str, str, str, str]:
    scored, engraved, slits, photos = view.data(
        drawn_lines.mark_lines(part), 4, THUMBNAIL_CHARACTERS
    )
    return scored, engraved, slits, photos


def _groups(parts: Sequence[Part], alike: Sequence[AlikeParts]) -> tuple[AlikeGroup, ...]:
    """Groups of parts that are alike, and the others alone, in the order of their first."""
    grouped = {member for group in alike for member in group.members}
    alone = [AlikeParts((n,), (False,)) for n in range(len(parts)) if n not in grouped]
    groups = sorted((*alike, *alone), key=lambda group: group.members)
    return tuple(_group(parts[group.members[0]], group) for group in groups)


def _group(part: Part, group: AlikeParts) -> AlikeGroup:
    x0, y0, x1, y1 = part.outline.bounds_mm
    return AlikeGroup(
        members=group.members,
        mirrored=sum(group.mirrored),
        width_mm=round(x1 - x0, 2),
        height_mm=round(y1 - y0, 2),
        area_mm2=round(part.polygon.area, 2),
        holes=len(part.holes),
        slits=len(part.slits),
        scores=len(part.scores),
        engraves=len(part.engraves),
        photos=len(part.photos),
        blank=part.blank,
    )


def _pinned(findings: Sequence[Finding], view: View) -> tuple[PinnedFinding, ...]:
    """Findings in the order of their numbers, with their places in the view."""
    told = []
    for _, finding in numbered(tuple(dict.fromkeys(findings))):
        fields = finding_record(finding).model_dump()
        for key in ("what", "remedy", "drawing", "shape"):
            fields[key] = printable(fields[key])
        placed = fields["x_mm"] is not None and fields["y_mm"] is not None
        at = view.at(fields["x_mm"], fields["y_mm"]) if placed else None
        told.append(PinnedFinding(**fields, at=at))
    return tuple(told)


def _decided(asked: Asked, shapes: Sequence[ProcessedShape]) -> tuple[RuleCatch, ...]:
    """How many shapes each rule decided about, the item's rules first."""
    counts: dict[str, int] = {}
    for one in shapes:
        counts[one.rule] = counts.get(one.rule, 0) + 1
    own = len(asked.item.rules)
    return tuple(
        RuleCatch(
            owner="item" if number < own else "order",
            number=number if number < own else number - own,
            shapes=counts.get(rule_name(number, rule, own), 0),
        )
        for number, rule in enumerate(asked.rules)
    )
