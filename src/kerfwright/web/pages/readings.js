/* A readings sheet (TOML) as fields: every line "key = value  # hint" is one, blocks keep their order.
   What the fields hold is put back into the same text, so that comments stay. */

import { h } from "./ui.js";

const LINE = /^(#\s*)?([a-z_0-9]+)\s*=\s*([^#]*?)\s*(?:#\s*(.*))?$/;
const BLOCK = /^\[\[(\w+)\]\]/;

/* The sheet's lines: {block: n} begins a block, {key, value, hint, off} is a field, {text} anything else. */
export function parsed(text) {
  let block = 0;
  return text.split("\n").map((line) => {
    if (BLOCK.test(line)) return { text: line, block: ++block };
    const found = LINE.exec(line);
    if (!found || (found[1] && found[3] === "")) return { text: line };
    const [, off, key, value, hint] = found;
    return { key, value: value.trim(), hint: hint ?? "", off: Boolean(off), block };
  });
}

const LIST = /^\[.*\]$/;
const QUOTED = /^".*"$/;
const NAMES = new Set(["row", "number", "program"]);

const bare = (one) => (LIST.test(one.value) || QUOTED.test(one.value) ? one.value.slice(1, -1).trim() : one.value);

/* The same text with what was filled in: values = {index of the line: what its field holds}. */
export function filledIn(lines, values) {
  return lines.map((line, index) => {
    if (line.key === undefined) return line.text;
    const given = values[index];
    const hint = line.hint ? `  # ${line.hint}` : "";
    if (given === undefined) return `${line.off ? "# " : ""}${line.key} = ${line.value}${hint}`;
    if (given.trim() === "" && line.off) return `# ${line.key} = ${line.value}${hint}`;
    if (LIST.test(line.value)) return `${line.key} = [${numbers(given, line.value)}]${hint}`;
    if (QUOTED.test(line.value)) return `${line.key} = ${JSON.stringify(given)}${hint}`;
    return `${line.key} = ${given.trim() || line.value}${hint}`;
  }).join("\n");
}

const numbers = (given, before) => {
  const words = given.split(/[\s,;]+/).filter(Boolean);
  return words.map((word) => (before.includes('"') || /:/.test(word) ? JSON.stringify(word.replaceAll('"', "")) : word)).join(", ");
};

/* Fields for a sheet; values() gives what filledIn needs. */
export function readingFields(text) {
  const lines = parsed(text);
  const inputs = new Map();
  const blocks = [];
  let heading = null;
  lines.forEach((line, index) => {
    if (line.key === undefined) {
      if (line.block) { heading = []; blocks.push(heading); }
      return;
    }
    if (heading === null) { heading = []; blocks.push(heading); }
    if (NAMES.has(line.key)) { heading.push(h("strong", { class: "reading-name" }, bare(line))); return; }
    const input = h("input", { value: line.off ? "" : bare(line), size: 16, placeholder: line.off ? bare(line) : "" });
    inputs.set(index, input);
    heading.push(h("label", {}, h("span", {}, [line.key.replaceAll("_", " "), line.hint].filter(Boolean).join(": ")), input));
  });
  return {
    element: h("div", { class: "readings" }, blocks.map((block) => h("div", { class: "row" }, block))),
    text: () => filledIn(lines, Object.fromEntries([...inputs].map(([index, input]) => [index, input.value]))),
  };
}
