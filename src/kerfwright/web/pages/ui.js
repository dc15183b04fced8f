/* Makes elements. Text goes in as text only: nothing here ever parses HTML. */

const SVG = "http://www.w3.org/2000/svg";

/* Signs that turn the order of letters round: a name could be made to read as another. */
const REORDERING = /[\u202a-\u202e\u2066-\u2069]/g;

/* Attributes that are read out or shown. */
const SPOKEN = new Set(["alt", "aria-label", "aria-valuetext", "placeholder", "title"]);

export const plain = (words) => String(words).replace(REORDERING, "");

const shown = (children) => children.flat(Infinity)
  .filter((child) => child !== null && child !== undefined && child !== false)
  .map((child) => (typeof child === "string" ? plain(child) : child));

function build(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "style") for (const [key, one] of Object.entries(value)) element.style.setProperty(key, one);
    else if (name === "value" && "value" in element) element.value = value;
    else if (name === "checked" || name === "disabled" || name === "selected" || name === "open") element[name] = Boolean(value);
    else element.setAttribute(name, value === true ? "" : SPOKEN.has(name) ? plain(value) : value);
  }
  element.append(...shown(children));
  return element;
}

/* h("button", {type: "button", onclick: go}, "Go"); style takes an object. */
export const h = (tag, attributes, ...children) => build(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => build(document.createElementNS(SVG, tag), attributes, children);

/* Replaces what is in an element, keeping the focus on the control of the same id. */
export function fill(element, ...children) {
  const focused = element.contains(document.activeElement) ? document.activeElement.id : "";
  element.replaceChildren(...shown(children));
  if (focused) document.getElementById(focused)?.focus();
  return element;
}

/* Says something to screen readers. */
export function say(words) {
  document.getElementById("said").textContent = plain(words);
}

export function problem(error) {
  const told = error instanceof Error && error.thing === undefined ? { thing: error.message } : error;
  say(told.thing);
  return h("div", { class: "problem", role: "alert" },
    h("p", {}, told.file ? h("strong", {}, `${told.file}: `) : null, told.thing),
    told.remedy ? h("p", {}, told.remedy) : null,
    told.help ? h("p", { class: "small" }, h("a", { href: told.help, target: "_blank" }, "More about this")) : null);
}

/* A button whose work may fail: busy while it runs, the problem shown behind it. */
export function action(words, work, { once = false, ...attributes } = {}) {
  const trouble = h("div", {});
  const button = h("button", { type: "button", ...attributes, onclick: async ({ detail }) => {
    if (once && detail > 1) return;
    button.disabled = true;
    button.setAttribute("aria-busy", "true");
    trouble.replaceChildren();
    try { await work(); } catch (error) { trouble.replaceChildren(problem(error)); }
    button.disabled = false;
    button.removeAttribute("aria-busy");
  } }, words);
  return h("span", { class: "action" }, button, trouble);
}

const WORDS = { stop: "Stop", warn: "Warning", note: "Note" };

const FOLDED_FROM = 4;

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/* A list of findings as plan.json and the inspection have them; numbers where they stand on a picture.
   Many notes are folded, what stops or warns never is. */
export function findings(list, { numbered = false, onpoint = null } = {}) {
  if (list.length === 0) return h("p", { class: "soft" }, "No findings.");
  const lines = list.map((one, index) => ({ one, line: finding(one, index, { numbered, onpoint }) }));
  const notes = lines.filter(({ one }) => one.severity === "note");
  const told = lines.filter((line) => !notes.includes(line));
  const ol = (some) => (some.length ? h("ol", { class: "findings" }, some.map(({ line }) => line)) : null);
  if (notes.length < FOLDED_FROM) return ol(lines);
  return h("div", {}, ol(told), h("details", { class: "notes" }, h("summary", {}, told.length ? `${notes.length} notes more` : `${notes.length} notes`), ol(notes)));
}

function finding(one, index, { numbered, onpoint }) {
  return h("li", { class: one.severity, "data-finding": index },
    h("p", {}, h("span", { class: "word" }, WORDS[one.severity] ?? one.severity), numbered ? `${index + 1}. ` : null, capital(one.what),
      one.count > 1 ? h("span", { class: "soft" }, ` (${one.count} places)`) : null),
    one.remedy ? h("p", {}, one.remedy) : null,
    h("p", { class: "small soft" }, [one.drawing, one.shape].filter(Boolean).join(", "), " ",
      onpoint && one.x_mm !== null ? [h("button", { type: "button", class: "plain", onclick: () => onpoint(index) }, "Show"), " "] : null,
      h("a", { href: helpAddress(one.code), target: "_blank" }, "More about this")));
}

export function helpAddress(code) {
  const [page, heading] = code.split("/");
  return `/help/${encodeURIComponent(page)}${heading ? `#${encodeURIComponent(heading)}` : ""}`;
}

export function duration(seconds) {
  if (seconds === null || seconds === undefined) return "–";
  if (seconds < 60) return `${seconds.toFixed(seconds < 10 ? 1 : 0)} s`;
  const whole = Math.round(seconds);
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor((whole % 3600) / 60), whole % 60];
  return hours ? `${hours} h ${String(minutes).padStart(2, "0")} min` : `${minutes} min ${String(rest).padStart(2, "0")} s`;
}

export const mm = (value) => `${Number(value.toFixed(2))} mm`;
export const percent = (fraction) => `${Math.round(100 * fraction)} %`;

/* Facts as a definition list: [["Sheets", "3"], …]. */
export const facts = (pairs) => h("dl", { class: "facts" }, pairs.map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value))));

/* A dialog that gives back what its form was left with, or null. */
export function dialog(title, body, { yes = "Save", no = "Cancel" } = {}) {
  return new Promise((resolve) => {
    const form = h("form", { method: "dialog" }, h("h2", {}, title), body,
      h("div", { class: "row" }, h("button", { class: "main", value: "yes" }, yes), h("button", { value: "no", formnovalidate: true }, no)));
    const box = h("dialog", { "aria-label": title }, form);
    box.addEventListener("close", () => {
      box.remove();
      resolve(box.returnValue === "yes" ? new FormData(form) : null);
    });
    document.body.append(box);
    box.showModal();
  });
}

/* Shows a page: its title and content in place of "Loading". */
export function page(title, ...content) {
  document.title = `${plain(title)} · Kerfwright`;
  fill(document.getElementById("main"), h("h1", {}, title), ...content);
}
