/* A small picture of a piece in stock. */

import { s } from "./ui.js";

export const number = (value) => Number(value.toFixed(1)).toString();

export function lotPicture(lot) {
  const [width, height] = [lot.width_mm, lot.height_mm];
  const rings = lot.rings.length ? lot.rings : [[[0, 0], [width, 0], [width, height], [0, height]]];
  const d = rings.map((ring) => `M${ring.map(([x, y]) => `${x} ${height - y}`).join("L")}Z`).join("");
  const edge = Math.max(width, height) / 60;
  return s("svg", { viewBox: `${-edge} ${-edge} ${width + 2 * edge} ${height + 2 * edge}`, width: 56, height: 40, role: "img", "aria-label": `${lot.kind}, ${number(width)} by ${number(height)} mm` },
    s("path", { d, fill: "var(--sheet)", stroke: "currentColor", "stroke-width": edge, "fill-rule": "evenodd" }));
}
