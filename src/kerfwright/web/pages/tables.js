/* Tables that scroll in a box of their own, and files that are saved. */

import { h } from "./ui.js";

/* A table: heads are [words, numeric?]; rows are elements. */
export const table = (caption, heads, rows, attributes = {}) => h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption }, h("table", attributes,
  h("caption", { class: "unseen" }, caption),
  h("thead", {}, h("tr", {}, heads.map(([name, numeric]) => h("th", { scope: "col", class: numeric ? "num" : null }, name)))), h("tbody", {}, rows)));

export const unseen = (words) => h("span", { class: "unseen" }, words);

/* Hands a file to the browser to be saved. */
export function save(content, name, type) {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
