/* Labels to print and stick on. */

import { file } from "./api.js";
import { say } from "./ui.js";
import { save } from "./tables.js";

/* small: a page of 90 × 50 mm for each, no A4 sheet of ten. */
export async function printLabels(labels, { small = false } = {}) {
  if (labels.length === 0) throw new Error("Choose at least one piece in the table first.");
  save(await file("/stock/labels", { labels, small_pages: small }), "labels.pdf", "application/pdf");
  say(`${labels.length === 1 ? "1 label" : `${labels.length} labels`} saved as labels.pdf.`);
}
