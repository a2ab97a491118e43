// Marks wait here until the server has them. Each is in localStorage before anything else happens to it, is sent in
// order, and keeps its id, by which the server takes it once however often it is sent.
import * as time from "/static/time.js";

const MINE = "bench-queue-";
const BATCH = 200;
const fresh = () => `d${Array.from(crypto.getRandomValues(new Uint32Array(2)), (n) => n.toString(36)).join("")}`;
// a tab is a device of its own; a copied tab copies its sessionStorage, so each load takes a new name
const device = fresh();
const name = MINE + device;
let number = 0;
let queue = [];
let sending = false;
let tell = () => {};
export const refused = [];

function keep() {
  if (queue.length) localStorage.setItem(name, JSON.stringify(queue));
  else localStorage.removeItem(name);
}

// what a page that is gone had not delivered; if it is open elsewhere, both send the same ids, which is harmless
function adopt() {
  for (const key of Object.keys(localStorage)) {
    if (!key.startsWith(MINE) || key === name) continue;
    try {
      const left = JSON.parse(localStorage.getItem(key));
      queue.push(...left.map((mark) => ({ ...mark, open: false, from: key })));
    } catch {
      // somebody else's
    }
  }
}

export function listen(told) {
  tell = told;
  adopt();
}

export const waiting = () => queue.length;

export function press(kind, step, stamp, more = {}) {
  number += 1;
  const mark = { id: `${device}-${number}`, at: time.at(stamp), kind, step, text: "", ...more };
  if (!time.known()) mark.raw = true;
  queue.push(mark);
  let problem = "";
  try {
    keep();
  } catch {
    problem = "This device keeps nothing: leave the page open until the mark is saved.";
  }
  tell(problem);
  deliver();
  return mark;
}

export function close(mark, text) {
  mark.text = text;
  mark.open = false;
  try {
    keep();
  } catch {
    // told when it was pressed
  }
  deliver();
}

function ready() {
  const end = queue.findIndex((mark) => mark.open);
  return queue.slice(0, end < 0 ? queue.length : end).slice(0, BATCH);
}

export async function deliver() {
  if (sending) return;
  sending = true;
  try {
    for (let batch = ready(); batch.length; batch = ready()) {
      if (!time.known()) await time.measure();
      for (const mark of batch) {
        if (mark.raw) mark.at += time.offsetNow();
        delete mark.raw;
      }
      const marks = batch.map(({ id, at, kind, step, text, of }) => (of ? { id, at, kind, step, text, of } : { id, at, kind, step, text }));
      const answer = await fetch("/marks", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ marks }),
      });
      const told = await answer.json();
      if (!answer.ok) throw new Error(told.why);
      const gone = new Set(told.taken);
      for (const one of told.refused) {
        gone.add(one.id);
        refused.push({ ...batch.find((mark) => mark.id === one.id), why: one.why });
      }
      const keys = new Set(queue.filter((mark) => mark.from && gone.has(mark.id)).map((mark) => mark.from));
      queue = queue.filter((mark) => !gone.has(mark.id));
      keep();
      for (const key of keys) if (!queue.some((mark) => mark.from === key)) localStorage.removeItem(key);
      tell("");
    }
  } catch (error) {
    tell(error instanceof TypeError ? "The bench log cannot be reached." : error.message);
  } finally {
    sending = false;
  }
}
setInterval(deliver, 1500);
addEventListener("online", deliver);
