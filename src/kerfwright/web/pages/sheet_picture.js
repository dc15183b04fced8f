/* A sheet as a picture: millimetres, y upwards. Parts are groups that can be chosen. */

import { many } from "./drawn.js";
import { mm, plain, s } from "./ui.js";

export const path = (rings) => rings.map((ring) => `M${ring.map(([x, y]) => `${x} ${y}`).join("L")}Z`).join("");
const line = (points) => `M${points.map(([x, y]) => `${x} ${y}`).join("L")}`;

/* Smallest x and y, largest x and y of points. */
export function box(points) {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    x0 = Math.min(x0, x); y0 = Math.min(y0, y); x1 = Math.max(x1, x); y1 = Math.max(y1, y);
  }
  return [x0, y0, x1, y1];
}

/* Gives {svg, parts: [group], over: group for guides and snapping, point(event) in mm}. */
export function sheetPicture(sheet, guides) {
  const edge = Math.max(sheet.width_mm, sheet.height_mm) / 100;
  const over = s("g", { class: "over", "aria-hidden": "true" });
  const parts = sheet.parts.map((part, n) => partGroup(part, n));
  const upright = s("g", { transform: `translate(0 ${sheet.height_mm}) scale(1 -1)` },
    s("path", { class: "sheet-area", d: path(sheet.outline), "fill-rule": "evenodd" }),
    sheet.left && sheet.left.rings.length ? s("path", { class: sheet.left.worth_keeping ? "left-over kept" : "left-over", d: path(sheet.left.rings), "fill-rule": "evenodd" }) : null,
    sheet.kept_free.map((zone) => s("path", { class: "kept-free", d: path([zone.ring]) }, s("title", {}, `Kept free${zone.why ? `: ${zone.why}` : ""}`))),
    parts, over);
  const svg = s("svg", {
    class: "sheet", viewBox: `${-edge} ${-edge} ${sheet.width_mm + 2 * edge} ${sheet.height_mm + 2 * edge}`,
    role: "group", "aria-label": `Sheet ${sheet.number}, ${mm(sheet.width_mm)} by ${mm(sheet.height_mm)}, ${many(sheet.parts.length, "part")}`,
  }, upright);
  for (const guide of guides) over.append(guideLine(sheet, guide, "guide"));
  const point = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(upright.getScreenCTM().inverse());
    return [at.x, at.y];
  };
  return { svg, parts, over, point };
}

function partGroup(part, n) {
  const group = s("g", { class: `part${part.pinned ? " pinned" : ""}${part.blank ? " blank" : ""}`, tabindex: 0, role: "button", "data-part": n, "aria-pressed": "false" },
    s("path", { class: "outline", d: path(part.rings), "fill-rule": "evenodd" }),
    part.marks.length ? s("path", { class: "marks", d: part.marks.map(line).join("") }) : null);
  const [x0, y0] = box(part.rings[0]);
  group.setAttribute("aria-label", plain(`${part.name}, number ${part.instance}, at ${mm(x0)}, ${mm(y0)}${part.pinned ? ", pinned" : ""}`));
  return group;
}

/* A guide over the whole sheet; guide = {x_mm} or {y_mm}. */
export function guideLine(sheet, guide, kind) {
  const upright = guide.x_mm !== null && guide.x_mm !== undefined;
  return s("line", { class: kind, ...(upright
    ? { x1: guide.x_mm, x2: guide.x_mm, y1: 0, y2: sheet.height_mm }
    : { x1: 0, x2: sheet.width_mm, y1: guide.y_mm, y2: guide.y_mm }) });
}
