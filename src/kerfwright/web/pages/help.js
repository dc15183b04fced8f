/* The key F1 or ? opens the help page for what is under the focus, or else under the pointer. */

let under = null;

document.addEventListener("pointermove", (event) => { under = event.target; }, { passive: true });

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select");
  if (event.key !== "F1" && (event.key !== "?" || typing)) return;
  const focus = document.activeElement === document.body ? null : document.activeElement;
  const place = focus?.closest("[data-help]") ?? under?.closest?.("[data-help]");
  event.preventDefault();
  const [pageName, heading] = (place?.dataset.help ?? "pages").split("/");
  window.open(`/help/${pageName}${heading ? `#${heading}` : ""}`, "_blank", "noopener");
});
