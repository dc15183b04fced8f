/* Settings of a recipe as people read them. */

const UNITS = { _mm_s: "mm/s", _mm: "mm", _s: "s", _deg: "°" };

/* Shares, from 0 to 1 in the files. */
const SHARES = new Set(["power", "power_min", "corner_power", "slowest_row"]);

/* speed_mm_s, 16 becomes ["speed", "16 mm/s"]; power, 0.5 becomes ["power", "50 %"]. */
export function setting(key, value) {
  const ending = Object.keys(UNITS).find((one) => key.endsWith(one));
  const name = (ending ? key.slice(0, -ending.length) : key).replaceAll("_", " ");
  const unit = SHARES.has(key) ? "%" : UNITS[ending];
  return [name, unit && typeof value === "number" ? `${bare(key, value)} ${unit}` : plain(value)];
}

/* What a setting is, without its unit. */
export const bare = (key, value) => (SHARES.has(key) && typeof value === "number" ? String(Number((100 * value).toFixed(4))) : plain(value));

export const settings = (all) => Object.entries(all).filter(([, value]) => value !== null).map(([key, value]) => setting(key, value).join(" ")).join(" · ");

export function plain(value) {
  if (value === null || value === undefined) return "none";
  if (value === true) return "yes";
  if (value === false) return "no";
  if (Array.isArray(value)) return value.map((one) => (Array.isArray(one) ? one.join(" → ") : String(one))).join(", ");
  return String(value);
}
