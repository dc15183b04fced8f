/* Tries another way beside the plan: the order is planned as if its file said so, and both are played. */

import { get, post, remove } from "./api.js";
import { action, fill, h, plain, problem, say } from "./ui.js";

const POLL_MS = 1000;

const ENGRAVE = { fastest: "whatever is fastest", scan: "scan", "contour-parallel": "contour-parallel", mixed: "mixed" };
const ROWS = { fastest: "whatever is fastest", level: "level rows", upright: "upright rows" };
const WORK = { process: "process by process", part: "part by part" };

/* What may be tried on a sheet: [{name, ways: [{words, change}]}]. */
export function choices(order, playback) {
  const settings = order.settings;
  const marked = (process) => new Set(playback.sources.filter((one) => one.process === process).map((one) => one.item));
  const ways = (words, at, chosen) => Object.entries(words).filter(([value]) => value !== chosen).map(([value, told]) => ({ words: told, change: { at, value } }));
  const items = order.items.map((item, number) => [item, number, item.name ?? stem(item.drawing)]);
  const found = [];
  for (const [item, number, name] of items) {
    if (marked("engrave").has(name)) found.push({ name: `Engraving of ${name}`, ways: ways(ENGRAVE, ["items", number, "engrave"], item.engrave ?? settings.engrave) });
    if (marked("photo").has(name)) found.push({ name: `Photos of ${name}`, ways: ways(ROWS, ["items", number, "photo_rows"], item.photo_rows) });
  }
  found.push({ name: "Order of the work", ways: ways(WORK, ["settings", "order_of_work"], settings.order_of_work) });
  const shared = settings.shared_edges;
  found.push({ name: "Edges that two parts share", ways: [{ words: shared ? "cut for each part by itself" : "cut once", change: { at: ["settings", "shared_edges"], value: !shared } }] });
  return found;
}

/* What was tried, in words. */
export function wordsOf(order, playback, changes) {
  const all = choices(order, playback).flatMap(({ name, ways }) => ways.map(({ words, change }) => [JSON.stringify(change), `${name}, ${words}`]));
  const known = new Map(all);
  return changes.map((one) => known.get(JSON.stringify({ at: one.at, value: one.value })) ?? `${one.at.at(-1)} = ${JSON.stringify(one.value)}`).join("; ");
}

/* ready(state) is called once the other way can be played, gone() when it is put away. */
export function whatIf(order, { ready, gone }) {
  const path = `${order.path}/what-if`;
  const form = h("div", {});
  const state = h("div", {});
  const element = h("details", { class: "play-what-if" }, h("summary", {}, "Try another way beside it"),
    h("p", { class: "soft small" }, "The order is planned once more as if its file said so. Nothing of it is changed unless you take the way."), form, state);
  let timer = 0;
  let shown = "";

  async function look() {
    clearTimeout(timer);
    const told = await get(path).catch(() => ({ state: "idle", changes: [] }));
    if (told.state !== "idle") element.open = true;
    if (told.state === "planning") {
      timer = setTimeout(look, POLL_MS);
      if (shown !== "planning") planning();
      state.querySelector("p").textContent = plain(told.words || "Starting");
    } else if (told.state === "failed") {
      fill(state, problem({ thing: told.words, remedy: told.remedy }));
    } else if (told.state === "ready" && shown !== "ready") {
      finished(told);
    }
    shown = told.state;
  }

  function planning() {
    fill(state, h("p", { class: "soft" }), h("progress", { "aria-label": "The other way is worked out" }), action("Stop", putAway));
    say("The other way is being worked out.");
  }

  function finished(told) {
    fill(state, h("div", { class: "row" },
      action("Take this way", async () => {
        await order.change(told.changes, { replan: true });
        await putAway();
      }),
      action("Put it away", putAway)));
    say("The other way is ready.");
    ready(told);
  }

  async function putAway() {
    clearTimeout(timer);
    await remove(path);
    shown = "idle";
    fill(state);
    gone();
  }

  async function start(change) {
    await putAway();
    await post(path, { changes: [change] });
    await look();
  }

  return {
    element,
    look,
    putAway,
    show(playback) {
      fill(form, chooser(choices(order.data.order, playback), start));
    },
  };
}

function chooser(found, start) {
  const what = h("select", { onchange: () => offer() }, found.map((one, number) => h("option", { value: number }, one.name)));
  const way = h("select", {});
  const offer = () => fill(way, found[Number(what.value)].ways.map((one, number) => h("option", { value: number }, one.words)));
  offer();
  return h("div", { class: "row" }, h("label", {}, h("span", {}, "What"), what), h("label", {}, h("span", {}, "Way"), way),
    action("Work it out", () => start(found[Number(what.value)].ways[Number(way.value)].change)));
}

const stem = (path) => path.split("/").at(-1).replace(/\.[^.]*$/, "");
