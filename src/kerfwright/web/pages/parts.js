/* The parts of all drawings, those that are alike together, and what was found about them. */

import { drawingsOf, many } from "./drawn.js";
import { fill, findings, h, s } from "./ui.js";

export const id = "parts";
export const title = "Parts";
export const help = "parts";

const SHOWN = 12;

export function create(order) {
  const drawings = drawingsOf(order);
  const element = h("div", {});
  let all = false;
  let chosen = "";

  function choose(n, name) {
    chosen = chosen === `${n} ${name}` ? "" : `${n} ${name}`;
    order.tell("select", chosen ? { kind: "part", item: n, part: name } : null);
    show();
  }

  function show() {
    const items = order.data.order.items;
    const known = drawings.items.map((one, n) => ({ n, item: items[n], data: one.data })).filter((one) => one.data && one.item);
    const groups = known.flatMap(({ n, item, data }) => data.alike.map((group) => ({ n, item, data, group })));
    const copies = groups.reduce((sum, one) => sum + one.group.members.length * one.item.quantity, 0);
    const shown = all ? groups : groups.slice(0, SHOWN);
    fill(element,
      h("p", { class: "soft" }, groups.length ? `${many(copies, "part")} to make, ${many(groups.length, "kind")}.` : "No parts are known yet."),
      h("ul", { class: "parts" }, shown.map((one, index) => partCard(one, index, chosen, choose))),
      shown.length < groups.length ? h("p", {}, h("button", { type: "button", onclick: () => { all = true; show(); } }, `Show all ${groups.length}`)) : null,
      shown.length < groups.length ? h("p", { class: "on-paper" }, `${groups.length - shown.length} more kinds are not shown here.`) : null,
      known.map(({ n, data }) => partFindings(drawings.nameOf(n), data)));
  }

  drawings.on(show);
  order.on("select", (what) => {
    const now = what?.part === undefined ? "" : `${what.item} ${what.part}`;
    if (now !== chosen) { chosen = now; show(); }
  });
  return { element, show };
}

function partCard({ n, item, data, group }, index, chosen, choose) {
  const first = data.parts[group.members[0]];
  const count = group.members.length;
  return h("li", { class: "part" },
    thumbnail(first, group.blank),
    h("p", {}, h("strong", {}, first.name), count > 1 ? h("span", { class: "soft" }, ` and ${count - 1} alike`) : null),
    h("p", { class: "small" }, `${group.width_mm} × ${group.height_mm} mm`),
    h("p", { class: "small soft" }, inside(group)),
    h("p", { class: "small" }, `${count * item.quantity}${item.fill ? " or more" : ""} to make`, group.mirrored ? `, ${group.mirrored * item.quantity} of them mirrored` : "", item.mirror ? ", all turned over" : ""),
    h("button", { type: "button", class: "plain", id: `part-${n}-${index}`, "aria-pressed": String(chosen === `${n} ${first.name}`), "aria-label": `Show ${first.name} in its drawing`, onclick: () => choose(n, first.name) }, "Show in the drawing"));
}

function inside(group) {
  return [
    group.blank ? "made elsewhere" : null,
    group.holes ? many(group.holes, "hole") : null,
    group.slits ? many(group.slits, "open cut") : null,
    group.scores ? `${group.scores} scored` : null,
    group.engraves ? `${group.engraves} engraved` : null,
    group.photos ? many(group.photos, "photo") : null,
  ].filter(Boolean).join(", ") || "outline only";
}

/* A blank is not cut: its edge is only where it lies. */
function thumbnail(part, blank) {
  const [left, top, right, bottom] = part.box;
  const pad = 0.06 * Math.max(right - left, bottom - top);
  return s("svg", { class: "drawn thumbnail", viewBox: `${left - pad} ${top - pad} ${right - left + 2 * pad} ${bottom - top + 2 * pad}`, "aria-hidden": "true" },
    s("path", { class: "part", d: part.d }),
    part.engraved ? s("path", { class: "area", d: part.engraved }) : null,
    s("path", { class: `line ${blank ? "guide" : "cut"}`, d: part.d }),
    part.slits ? s("path", { class: "line cut", d: part.slits }) : null,
    part.scored ? s("path", { class: "line score", d: part.scored }) : null,
    part.photos ? s("path", { class: "line photo", d: part.photos }) : null);
}

/* Findings about parts, with the numbers that they have at the drawing. */
function partFindings(name, data) {
  const about = data.findings.filter((one) => one.code.startsWith("parts/"));
  if (about.length === 0) return null;
  return h("details", { open: about.some((one) => one.severity === "stop") },
    h("summary", {}, `${many(about.length, "finding")} about parts of ${name}, ${about.length === 1 ? "told" : "all told"} at the drawing too`), findings(about));
}
