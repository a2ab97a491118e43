// Asking the server. An answer that does not come whole within ten seconds is none: a radio link that died would hold a
// request for minutes, and all marks with it.
import { job } from "/static/store.js";

const PATIENCE_MS = 10000;

export async function ask(path, body) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), PATIENCE_MS);
  // the server refuses a page of another job, which had this address before
  const asked = { headers: { "X-Bench-Job": job }, signal: stop.signal };
  if (body !== undefined) {
    asked.method = "POST";
    asked.headers["Content-Type"] = "application/json";
    asked.body = JSON.stringify(body);
  }
  let answer;
  let told;
  try {
    answer = await fetch(path, asked);
    told = await answer.json();
  } catch {
    throw new Error("The bench log cannot be reached.");
  } finally {
    clearTimeout(late);
  }
  if (!answer.ok) throw new Error(told.why ?? "The bench log does not answer as it should.");
  return told;
}
