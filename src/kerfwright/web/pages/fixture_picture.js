/* A fixture as a picture: millimetres, y upwards. Empty pockets are hatched, those out of use crossed out. */

import { mm, s } from "./ui.js";
import { box, path } from "./sheet_picture.js";

let pictures = 0;

/* Pockets = [{number, ring, filled, in_use, marks: {lines, areas}, centre}] on a board = [x0, y0, x1, y1].
   onpocket(pocket) makes them buttons. Gives {svg, upright, over, point(event) in mm}. */
export function pocketsPicture(board, pockets, { label, crosses = [], onpocket = null, className = "" }) {
  const [x0, y0, x1, y1] = board;
  const size = Math.max(x1 - x0, y1 - y0);
  const edge = size / 60;
  const id = `hatch-${pictures += 1}`;
  const over = s("g", { class: "over" });
  const upright = s("g", { transform: `translate(0 ${y0 + y1}) scale(1 -1)` },
    s("rect", { class: "board", x: x0, y: y0, width: x1 - x0, height: y1 - y0 }),
    crosses.map(([x, y]) => s("path", { class: "cross", d: `M${x - 3} ${y}H${x + 3}M${x} ${y - 3}V${y + 3}` }, s("title", {}, `Mark at ${mm(x)}, ${mm(y)}`))),
    pockets.map((pocket) => pocketGroup(pocket, { id, onpocket, most: size / 26 })), over);
  const svg = s("svg", {
    class: `fixture ${className}`, viewBox: `${x0 - edge} ${y0 - edge} ${x1 - x0 + 2 * edge} ${y1 - y0 + 2 * edge}`,
    role: onpocket || className ? "group" : "img", "aria-label": label,
  }, s("defs", {}, s("pattern", { id, width: size / 55, height: size / 55, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
    s("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: size / 55, "stroke-width": size / 400 }))), upright);
  const point = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(upright.getScreenCTM().inverse());
    return [at.x, at.y];
  };
  return { svg, upright, over, point };
}

function pocketGroup(pocket, { id, onpocket, most }) {
  const [x0, y0, x1, y1] = box(pocket.ring);
  const state = !pocket.in_use ? "out of use" : pocket.filled === undefined ? "in use" : pocket.filled ? "a blank lies in it" : "empty";
  const high = Math.min(most, (y1 - y0) / 3);
  const words = `Pocket ${pocket.number}, ${state}`;
  const pressed = onpocket ? { tabindex: 0, role: "button", "aria-pressed": String(!pocket.in_use), "aria-label": `${words}. Out of use`,
    onclick: () => onpocket(pocket),
    onkeydown: (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); onpocket(pocket); } } } : {};
  return s("g", { class: `pocket${pocket.in_use ? "" : " unused"}`, "data-pocket": pocket.number, ...pressed },
    onpocket ? null : s("title", {}, words),
    s("path", { class: "outline", d: path([pocket.ring]) }),
    pocket.in_use && pocket.filled !== false ? null : s("path", { class: "empty", d: path([pocket.ring]), fill: `url(#${id})` }),
    pocket.in_use ? null : s("path", { class: "crossed", d: `M${x0} ${y0}L${x1} ${y1}M${x0} ${y1}L${x1} ${y0}` }),
    pocket.marks ? s("g", { class: "burned", transform: pocket.centre ? `translate(${pocket.centre[0]} ${pocket.centre[1]})` : null },
      s("path", { class: "areas", d: pocket.marks.areas }), s("path", { class: "lines", d: pocket.marks.lines })) : null,
    s("text", { x: x0 + high / 5, y: -(y1 - high * 0.8), transform: "scale(1 -1)", "font-size": high, "aria-hidden": "true" }, String(pocket.number)));
}

/* Pockets of a fixture as GET fixtures gives them; marks = Map of shape, filled = Set of numbers. */
export function pocketsOf(shown, { marks = null, filled = null } = {}) {
  return shown.pockets.map((one) => {
    const has = filled === null ? undefined : filled.has(one.number);
    return { number: one.number, ring: one.outline, in_use: one.in_use, filled: has, centre: one.centre_mm, marks: has ? marks?.get(one.shape) : null };
  });
}

export const boardOf = (shown) => [0, 0, shown.width_mm, shown.height_mm];

/* Middles of the marks from the fixture's own corner. */
export const crossesOf = (shown) => shown.marks_mm.map(([x, y]) => [x - shown.at_mm[0], y - shown.at_mm[1]]);
