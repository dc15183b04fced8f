/* Settings of a recipe as people read them. */

const UNITS = { _mm_s: "mm/s", _mm: "mm", _s: "s", _deg: "°" };

/* speed_mm_s, 16 becomes ["speed", "16 mm/s"]. */
export function setting(key, value) {
  const ending = Object.keys(UNITS).find((one) => key.endsWith(one));
  const name = (ending ? key.slice(0, -ending.length) : key).replaceAll("_", " ");
  return [name, ending && typeof value === "number" ? `${plain(value)} ${UNITS[ending]}` : plain(value)];
}

export const settings = (all) => Object.entries(all).filter(([, value]) => value !== null).map(([key, value]) => setting(key, value).join(" ")).join(" · ");

export function plain(value) {
  if (value === null || value === undefined) return "none";
  if (value === true) return "yes";
  if (value === false) return "no";
  if (Array.isArray(value)) return value.map((one) => (Array.isArray(one) ? one.join(" → ") : String(one))).join(", ");
  return String(value);
}
