/* The list of orders, and new ones from drawings that are dropped on it. */

import { get, post, remove } from "./api.js";
import { action, duration, facts, fill, h, page, problem, say } from "./ui.js";
import { newOrder } from "./new_order.js";
import "./help.js";

const STATES = { none: "Not planned yet", current: "Planned", "out-of-date": "Changed since it was planned" };

const list = h("div", { class: "cards" });
const aside = h("div", {});
const undo = h("div", {});

const addressOf = (slug) => `/orders/${encodeURIComponent(slug)}`;

async function show() {
  const [orders, offered, removed] = await Promise.all([get("/orders"), get("/new-order"), get("/orders-removed")]);
  orders.sort((a, b) => (a.due ?? "9999").localeCompare(b.due ?? "9999") || a.title.localeCompare(b.title));
  fill(list, orders.map(card));
  fill(aside, removedOrders(removed));
  return { orders, offered };
}

function card(one) {
  return h("article", { class: "card order" },
    h("h2", {}, h("a", { href: addressOf(one.slug) }, one.title)),
    one.trouble
      ? problem({ thing: one.trouble })
      : [h("p", { class: "soft" }, `${STATES[one.plan]}.`),
        facts([one.due ? ["Due", one.due] : null, one.time_s === null ? null : ["Machine time", duration(one.time_s)], one.sheets === null ? null : ["Sheets", String(one.sheets)]].filter(Boolean))],
    action("Remove", () => take(one), { class: "plain", "aria-label": `Remove ${one.title}` }));
}

async function take(one) {
  const removed = await remove(`/orders/${encodeURIComponent(one.slug)}`);
  await show();
  const back = action("Undo", () => bringBack(removed));
  fill(undo, h("p", { class: "undo" }, `“${removed.title}” was removed; its files are in orders-removed. `, back));
  say(`${removed.title} was removed.`);
  back.querySelector("button").focus();
}

async function bringBack(removed) {
  await post(`/orders-removed/${encodeURIComponent(removed.name)}`);
  fill(undo);
  await show();
  say(`${removed.title} is back.`);
  document.getElementById("main").focus();
}

function removedOrders(removed) {
  if (removed.length === 0) return null;
  return h("details", {}, h("summary", {}, `Removed orders (${removed.length})`),
    h("ul", { class: "plain-list" }, removed.map((one) => h("li", {}, one.title, h("span", { class: "soft" }, `, removed ${one.removed.slice(0, 10)} `),
      action("Bring back", () => bringBack(one), { class: "plain", "aria-label": `Bring back ${one.title}` })))));
}

/* What a workshop needs, where machine or materials are missing. */
function missing(offered) {
  const needs = [
    offered.machines.length ? null : ["A machine", "machine.toml says its bed, speeds and spot, from its manual and your trials.", "machine"],
    offered.materials.length ? null : ["A material", "a file in the folder materials says how it is cut and engraved on your machine.", "material"],
  ].filter(Boolean);
  if (needs.length === 0) return null;
  return h("div", { class: "card" },
    h("h2", {}, offered.empty ? "This workshop is empty" : "This workshop is not complete"),
    h("p", {}, needs.length > 1 ? "To plan orders of your own it needs:" : "To plan orders it still needs:"),
    h("ul", {}, needs.map(([what, why, help]) => h("li", {}, h("strong", {}, what), `: ${why} `, h("a", { href: `/help/${help}`, target: "_blank" }, "How it is written")))),
    offered.empty
      ? h("div", {}, h("p", {}, "To look around first, begin with an invented workshop in the harbour town of Eiderwick. Its settings were never burned."),
        action("Begin with the example workshop", async () => { const { slug } = await post("/example"); location.assign(addressOf(slug)); }, { class: "main" }))
      : null);
}

try {
  const { orders, offered } = await show();
  page("Orders",
    missing(offered),
    offered.faults.map((one) => problem(one)),
    offered.machines.length && offered.materials.length ? newOrder(offered, (slug) => location.assign(addressOf(slug))) : null,
    undo, list, orders.length || offered.empty ? null : h("p", { class: "soft" }, "No orders yet."), aside);
  document.getElementById("said").textContent = "";
} catch (error) {
  page("Orders", problem(error));
}
