import { get } from "./api.js";
import { duration, h, page, problem } from "./ui.js";
import "./help.js";

const STATES = { none: "not planned", current: "planned", "out-of-date": "changed since it was planned" };

try {
  const orders = await get("/orders");
  page("Orders", h("div", { class: "cards" }, orders.map((one) => h("article", { class: "card" },
    h("h2", {}, h("a", { href: `/orders/${encodeURIComponent(one.slug)}` }, one.title)),
    one.trouble ? problem({ thing: one.trouble }) : h("p", { class: "soft" }, [STATES[one.plan], one.time_s === null ? null : duration(one.time_s), one.due ? `due ${one.due}` : null].filter(Boolean).join(" · "))))));
} catch (error) {
  page("Orders", problem(error));
}
