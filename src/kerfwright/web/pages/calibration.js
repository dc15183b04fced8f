/* Trial pieces and timed runs: make one, burn it, fill in what was read, take the result over. */

import { get, post, put } from "./api.js";
import { action, dialog, fill, findings, h, page, problem, say } from "./ui.js";
import { readingFields } from "./readings.js";
import "./help.js";

const KINDS = {
  kerf: ["Kerf", "Rows of pieces, pushed together and measured, tell how much a cut takes away."],
  power: ["Power and speed", "Cells of several powers and speeds: those that did it tell the setting."],
  interval: ["Interval", "Squares from fine to coarse: the coarsest even one is taken."],
  focus: ["Focus", "Lines on a board that leans: their widths tell focus and spot."],
  grey: ["Shades", "A ramp of fields: their darkness tells the grey curve of photos."],
  motion: ["Motion", "Programs that move without burning, timed with a stopwatch, tell the machine's accelerations."],
};

const KERF = [["length_mm", "Length of a row in mm", 80]];
const OWN = [["speed_mm_s", "Speed in mm/s, if not the recipe's"], ["power", "Power from 0 to 1, if not the recipe's"], ["passes", "Passes, if not the recipe's"]];
const TRIPLES = { intervals: "Intervals in mm", powers: "Powers from 0 to 1", speeds: "Speeds in mm/s" };
const FIELDS = {
  kerf: { one: [...OWN, ...KERF], three: [] },
  power: { one: [["passes", "Passes"], ["interval_mm", "Interval in mm, to engrave"]], three: ["powers", "speeds"], process: true },
  interval: { one: OWN, three: ["intervals"] },
  focus: { one: [...OWN.slice(0, 2), ["lines", "How many lines", 13]], three: [] },
  grey: { one: [...OWN, ["interval_mm", "Interval in mm, if not the recipe's"], ["steps", "How many fields", 11]], three: [], method: true },
  motion: { one: [], three: [] },
};
const METHODS = ["power", "floyd-steinberg", "jarvis-judice-ninke", "stucki", "atkinson", "ordered", "blue-noise"];

const pieces = h("div", {});
const taken = h("div", {});
const label = (words, control) => h("label", {}, h("span", {}, words), control);

async function showPieces(open = "") {
  try {
    const made = await get("/calibration");
    fill(pieces, made.length === 0 ? h("p", { class: "soft" }, "None yet.") : made.map((piece) => card(piece, piece.name === open)));
  } catch (error) {
    fill(pieces, problem(error));
  }
}

function card(piece, open) {
  const body = h("div", {});
  const box = h("details", { class: "card", open, ontoggle: () => { if (box.open && !body.firstChild) load(piece, body); } },
    h("summary", {}, h("strong", {}, KINDS[piece.kind][0]), ` of ${piece.made_on}: ${piece.material || piece.machine}`, piece.accepted_on ? h("span", { class: "soft" }, `, taken over ${piece.accepted_on}`) : null), body);
  if (open) load(piece, body);
  return box;
}

async function load(piece, body) {
  const path = `/calibration/${encodeURIComponent(piece.name)}`;
  try {
    const [{ files }, readings] = await Promise.all([get(path), get(`${path}/readings`)]);
    const fields = readingFields(readings.text);
    const told = h("div", { role: "status" });
    const address = (name) => `/api${path}/files/${encodeURIComponent(name)}`;
    let seen = readings.digest;
    const save = async () => { seen = (await put(`${path}/readings`, { text: fields.text() }, { seen })).digest; };
    fill(body,
      h("p", {}, "Untried settings catch fire sooner than others: stay with it, extraction on, a way to put out a fire at hand. The machine's manual and local rules come first."),
      h("ul", {}, files.filter((name) => !name.endsWith(".toml")).map((name) => h("li", {}, h("a", { href: address(name), target: name.endsWith(".nc") ? null : "_blank", download: name.endsWith(".nc") ? name : null }, name)))),
      h("h3", {}, "What was read"), h("p", { class: "small soft" }, "Several readings of one thing with commas between. What was not read stays empty."), fields.element,
      h("div", { class: "row" },
        action("Save", async () => { await save(); say("Saved."); fill(told, h("p", {}, "Saved.")); }),
        action("See what it tells", async () => { await save(); fill(told, result(piece, path, await get(`${path}/result`))); })),
      told);
  } catch (error) {
    fill(body, problem(error));
  }
}

function result(piece, path, found) {
  const file = piece.material && piece.kind !== "focus" ? piece.material : piece.machine;
  return [
    found.lines.length ? h("table", {}, h("caption", { class: "unseen" }, "What the readings tell"), h("thead", {}, h("tr", {}, ["", "Found", "95 % interval"].map((name) => h("th", { scope: "col" }, name)))),
      h("tbody", {}, found.lines.map((line) => h("tr", {}, h("th", { scope: "row" }, line.name), h("td", {}, line.value), h("td", {}, line.interval))))) : null,
    found.report ? h("pre", { class: "scroll", tabindex: 0 }, found.report) : null,
    found.remarks.map((one) => h("p", {}, one)),
    action(`Take it over into ${file}`, async () => {
      const sure = await dialog("Take the result over", h("p", {}, `The settings are written into ${file}; its comments stay, and earlier settings remain on record.`), { yes: "Take over" });
      if (!sure) return;
      const { words } = await post(`${path}/acceptance`);
      await showPieces(piece.name);
      fill(taken, h("p", { role: "status" }, `Taken over into ${file}. ${words}`));
      say(`Taken over. ${words}`);
    }),
  ];
}

function maker(workshop) {
  const kind = h("select", { name: "kind", onchange: () => options() }, Object.entries(KINDS).map(([value, [name]]) => h("option", { value }, name)));
  const files = (list) => list.map((one) => h("option", { value: one.file, disabled: Boolean(one.trouble) }, one.name));
  const machine = h("select", { name: "machine" }, files(workshop.machines));
  const material = label("Material", h("select", { name: "material" }, files(workshop.materials)));
  const own = h("div", {});
  const told = h("div", {});
  const options = () => {
    const wanted = FIELDS[kind.value];
    material.hidden = kind.value === "motion";
    fill(own, h("p", {}, KINDS[kind.value][1]), h("div", { class: "row" },
      wanted.process ? label("What the cells try", h("select", { name: "process" }, ["cut", "score", "engrave"].map((one) => h("option", {}, one)))) : null,
      wanted.method ? label("How shades are burned", h("select", { name: "method" }, h("option", { value: "" }, "as the recipe says"), METHODS.map((one) => h("option", {}, one)))) : null,
      wanted.one.map(([name, words, value]) => label(words, h("input", { name, inputmode: "decimal", value: value ?? "", size: 8 })))),
      wanted.three.map((name) => h("fieldset", {}, h("legend", {}, TRIPLES[name]), h("div", { class: "row" }, ["lowest", "highest", "how many"].map((words, place) => label(words, h("input", { name: `${name}.${place}`, inputmode: "decimal", required: true, size: 6 })))))),
      kind.value === "motion" ? null : h("fieldset", {}, h("legend", {}, "Scored labels, if the material has no recipe for scoring"), h("div", { class: "row" }, label("Speed in mm/s", h("input", { name: "labels.0", inputmode: "decimal", size: 6 })), label("Power from 0 to 1", h("input", { name: "labels.1", inputmode: "decimal", size: 6 })))));
  };
  const form = h("form", {}, h("div", { class: "row" }, label("What to find", kind), label("Machine", machine), material), own,
    action("Make the piece", async () => {
      if (!form.reportValidity()) return;
      fill(told, h("p", { class: "soft" }, "Planning and proving the piece …"));
      try {
        const made = await post("/calibration", asked(new FormData(form)));
        fill(told, made.findings.length ? findings(made.findings) : null);
        say("The piece is made.");
        await showPieces(made.piece.name);
      } catch (error) {
        fill(told);
        throw error;
      }
    }, { class: "main" }), told);
  options();
  begun(new URLSearchParams(location.search), kind, options, form);
  return form;
}

/* Fills the form in with what the address asks for: ?kind=power&machine=machine.toml&speeds.0=10 … */
function begun(wanted, kind, options, form) {
  if (!Object.hasOwn(KINDS, wanted.get("kind") ?? "")) return;
  kind.value = wanted.get("kind");
  options();
  for (const [name, value] of wanted) {
    const field = form.elements.namedItem(name);
    if (name !== "kind" && field && "value" in field) field.value = value;
  }
}

/* The form as the interface wants it: numbers as numbers, empty fields left out. */
function asked(given) {
  const out = {};
  for (const [name, text] of given) {
    const value = text.trim();
    if (value === "") continue;
    const [key, place] = name.split(".");
    const number = Number(value.replace(",", "."));
    const one = ["kind", "machine", "material", "process", "method"].includes(key) ? value : number;
    if (place === undefined) out[key] = one;
    else (out[key] ??= [])[Number(place)] = one;
  }
  if (out.labels && out.labels.length !== 2) delete out.labels;
  return out;
}

try {
  const workshop = await get("/workshop");
  page("Calibration", h("div", { "data-help": "calibration" },
    h("p", {}, "Trial pieces find what your machine does to your material; nothing is taken over that was not measured."),
    h("section", { class: "no-print", "aria-label": "A new piece" }, h("h2", {}, "A new piece"), workshop.machines.length ? maker(workshop) : h("p", {}, "The workshop has no machine file yet.")),
    h("section", { "aria-label": "Pieces" }, h("h2", {}, "Pieces"), taken, pieces)));
  await showPieces();
} catch (error) {
  page("Calibration", problem(error));
}
