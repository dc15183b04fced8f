/* Every version of a recipe: when, by whom, from where, what it changed; and bringing one back. */

import { get, post } from "./api.js";
import { action, dialog, fill, h, problem, say } from "./ui.js";
import { bare, setting } from "./recipes-words.js";

/* known is a recipe on record; again() shows the page anew after one was brought back. */
export function history(known, again, { named = false } = {}) {
  const { which } = known;
  const body = h("div", {}, "Loading …");
  const whose = named ? `${which.material}, ${which.thickness_mm} mm: ` : "";
  const count = known.versions === 1 ? "1 version" : `${known.versions} versions`;
  const box = h("details", { class: "history", ontoggle: () => { if (box.open) load(known, body, again); } },
    h("summary", {}, `${whose}${which.process} on ${which.machine}: ${count} on record`, known.file && !known.in_file ? ", none in the file now" : ""), body);
  return box;
}

async function load(known, body, again) {
  try {
    const told = await get(`/recipes/history?${new URLSearchParams(known.which)}`);
    fill(body,
      told.file && told.now === null ? h("p", {}, known.in_file ? "What the file holds now is not on record yet; it is noted when an order is planned with it." : "The file has no such recipe now.") : null,
      h("ol", {}, [...told.versions].reverse().map((one) => version(one, told, again))));
  } catch (error) {
    fill(body, problem(error));
  }
}

function version(one, told, again) {
  const { version: it } = one;
  const now = it.number === told.now;
  const trust = [it.status, it.tested_on, it.tested_by].filter(Boolean).join(", ");
  return h("li", { class: now ? "now" : null },
    h("p", {}, h("strong", {}, `Version ${it.number}`), now ? ", in the file now" : "", ` · ${moment(it.noted_at)}${it.noted_by ? ` · by ${it.noted_by}` : ""} · from ${one.origin}`),
    h("p", { class: "soft" }, trust),
    h("ul", { class: "changed" }, one.changed.map(change)),
    told.file && !now ? action(["Bring it back", h("span", { class: "unseen" }, ` version ${it.number}`)], () => restore(it, told, again), { class: "no-print" }) : null);
}

/* A moment by this computer's clock, as 2026-05-04 16:20. */
const moment = (at) => new Date(at).toLocaleString("sv-SE", { dateStyle: "short", timeStyle: "short" });

function change({ key, before, after }) {
  const [name, value] = setting(key, after);
  return h("li", {}, `${name} `, before === null ? null : h("span", { class: "earlier" }, `${bare(key, before)} → `), value);
}

async function restore(it, told, again) {
  const sure = await dialog(`Bring version ${it.number} back`, [
    h("p", {}, `The ${told.which.process} recipe in ${told.file} becomes what it was in version ${it.number}, and says of itself: ${it.status}. Comments stay; what the file holds now remains on record.`),
    it.status === "untested" ? h("p", {}, "That version was never tested: burn a trial piece before an order depends on it.") : null], { yes: "Bring it back" });
  if (!sure) return;
  const { words } = await post(`/recipes/versions/${it.number}/restoration`);
  await again();
  say(words);
}
