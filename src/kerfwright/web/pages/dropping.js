/* A place to drop drawings on, with a button that chooses files for keyboard and touch. */

import { h, problem } from "./ui.js";

/* Of one request; the server refuses more without hearing it out. */
const MOST_BYTES = 60 * 1024 * 1024;

const ENDINGS = ".svg,.svgz,.dxf,.pdf,.png,.jpg,.jpeg,.bmp,.gif,.tif,.tiff,.webp";

/* take(files) may fail; what it says is shown in the place. */
export function dropping(words, take, { multiple = true, button = "Choose files", accept = ENDINGS } = {}) {
  const trouble = h("div", {});
  const input = h("input", { type: "file", class: "unseen", accept, multiple, onchange: () => taken([...input.files]) });
  const place = h("div", { class: "drop" },
    h("p", {}, words),
    h("label", { class: "button choose" }, input, button),
    trouble);

  async function taken(files) {
    if (files.length === 0) return;
    trouble.replaceChildren();
    place.setAttribute("aria-busy", "true");
    try {
      if (files.reduce((sum, file) => sum + file.size, 0) > MOST_BYTES) throw { thing: "That is more than 60 MB at once.", remedy: "Send fewer drawings at a time, or make them smaller.", help: "/help/pages#too-large" };
      await take(multiple ? files : files.slice(0, 1));
    } catch (error) {
      trouble.replaceChildren(problem(error));
    }
    place.removeAttribute("aria-busy");
    input.value = "";
  }

  let inside = 0;
  const over = (by) => { inside = Math.max(0, inside + by); place.classList.toggle("over", inside > 0); };
  place.addEventListener("dragenter", (event) => { event.preventDefault(); over(1); });
  place.addEventListener("dragleave", () => over(-1));
  place.addEventListener("dragover", (event) => event.preventDefault());
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    over(-inside);
    taken([...event.dataTransfer.files]);
  });
  return place;
}

/* A file dropped beside the place must not replace the page. */
for (const kind of ["dragover", "drop"]) {
  window.addEventListener(kind, (event) => { if ([...(event.dataTransfer?.types ?? [])].includes("Files")) event.preventDefault(); });
}
