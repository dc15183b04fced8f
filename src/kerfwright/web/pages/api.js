/* Asks the interface (/api). Whatever it refuses comes as a Problem with thing, remedy and help. */

export class Problem extends Error {
  constructor(told, status) {
    super(told.thing);
    Object.assign(this, { file: "", thing: "", remedy: "", help: "" }, told, { status });
  }
}

/* seen: digest of the file that is changed, as it was seen; the server refuses if it is another now. */
async function ask(method, path, body, { seen, ...options } = {}) {
  const headers = { accept: "application/json" };
  if (seen) headers["if-match"] = `"${seen}"`;
  if (method !== "GET") headers["x-kerfwright"] = "page";
  if (body !== undefined && !(body instanceof FormData)) {
    headers["content-type"] = "application/json";
    body = JSON.stringify(body);
  }
  let answer;
  try {
    answer = await fetch(`/api${path}`, { method, headers, body, ...options });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem({ thing: "Kerfwright does not answer.", remedy: "Start it again: kerfwright serve." }, 0);
  }
  if (answer.ok) return answer;
  throw new Problem(await toldBy(answer), answer.status);
}

async function toldBy(answer) {
  const told = await answer.json().catch(() => ({}));
  if (told.thing) return told;
  return { thing: `Something went wrong (${answer.status}).` };
}

const json = (answer) => (answer.status === 204 ? null : answer.json());

export const get = (path, options) => ask("GET", path, undefined, options).then(json);
export const post = (path, body = {}) => ask("POST", path, body).then(json);
export const put = (path, body, options) => ask("PUT", path, body, options).then(json);
export const patch = (path, body, options) => ask("PATCH", path, body, options).then(json);
export const remove = (path, options) => ask("DELETE", path, undefined, options).then(json);
export const bytes = (path, options) => ask("GET", path, undefined, options).then((answer) => answer.arrayBuffer());
export const file = (path, body) => ask("POST", path, body).then((answer) => answer.blob());
export const text = (path, options) => ask("GET", path, undefined, options).then((answer) => answer.text());

/* Sends files with fields beside them. */
export function upload(path, files, fields = {}, method = "POST", options = {}) {
  const form = new FormData();
  for (const [name, value] of Object.entries(fields)) form.append(name, value);
  for (const file of files) form.append("files", file, file.name);
  return ask(method, path, form, options).then(json);
}

/* Listens to server-sent events: on = {kind: (data) => …}. Reconnects by itself, and calls opened()
   whenever it has, as another server may answer then; returns close(). */
export function events(path, on, opened = () => {}) {
  const source = new EventSource(`/api${path}`);
  source.addEventListener("open", opened);
  for (const [kind, then] of Object.entries(on)) {
    source.addEventListener(kind, (event) => then(JSON.parse(event.data)));
  }
  return () => source.close();
}
