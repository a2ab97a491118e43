// Marks wait here until the server has them. Each is kept on this device before anything else happens to it, is sent in
// order, and keeps its id, by which the server takes it once however often it is sent.
import { ask } from "/static/net.js";
import * as store from "/static/store.js";
import * as time from "/static/time.js";

// jobs may have had the same address one after the other, and share what is kept
const MINE = `bench-queue-${store.job}-`;
const REFUSED = `bench-refused-${store.job}`;
const TABS = `bench-tabs-${store.job}`;
const MOST = 200;
const LARGEST = 48000; // of the server's 64 kB
const SOON_MS = 1000;
const SELDOM_MS = 8000;
const HEARD_MS = 400;

// A tab is a device of its own. A copied tab copies its sessionStorage, so each load takes a new name.
const device = `d${Array.from(crypto.getRandomValues(new Uint32Array(2)), (n) => n.toString(36)).join("")}`;
const tabs = [...store.read(TABS, [], "sessionStorage"), device].slice(-50);
const bytes = new TextEncoder();
let number = 0;
let queue = [];
let sending = false;
let pause = SOON_MS;
let timer = 0;
let tell = () => {};
let problem = "";
export let refused = store.read(REFUSED, []);

const keep = () => {
  const own = queue.filter((mark) => !mark.from);
  return store.write(MINE + device, own.length ? own : null);
};

export const waiting = () => queue.length;
export const asking = () => queue.length === 1 && Boolean(queue[0].open); // all that waits is a mark whose words are asked for
const unkept = () => queue.length > 0 && store.denied.has(MINE + device);
export const trouble = () =>
  unkept() ? "This device keeps nothing: leave the page open until all is saved." : problem;
export const isOurs = (mark) => tabs.includes((mark.id ?? "").split("-")[0]);

export function forgive() {
  refused = [];
  store.write(REFUSED, null);
  tell();
}

export function press(kind, step, stamp, more = {}) {
  number += 1;
  const when = time.known() ? { at: time.at(stamp) } : { ...time.rough(stamp), raw: true };
  const mark = { id: `${device}-${number}`, ...when, kind, step, text: "", ...more };
  queue.push(mark);
  keep();
  tell();
  deliver();
  return mark;
}

export function type(mark, text) {
  mark.text = text;
  keep();
}

export function close(mark, text) {
  mark.text = text;
  mark.open = false;
  keep();
  deliver();
}

const sent = ({ id, at, kind, step, text, of }) => (of ? { id, at, kind, step, text, of } : { id, at, kind, step, text });

// the first that are ready; one whose words are still being typed holds back those after it, for the order's sake
function ready() {
  const batch = [];
  let size = 0;
  for (const mark of queue) {
    size += bytes.encode(JSON.stringify(sent(mark))).length + 40;
    if (mark.open || batch.length === MOST || (batch.length && size > LARGEST)) break;
    batch.push(mark);
  }
  return batch;
}

const marksOf = (from) => store.read(from, []).filter((mark) => typeof mark?.id === "string");

// another tab may have added to what it keeps meanwhile, so only what was taken leaves
function release(from, gone) {
  const left = marksOf(from).filter((mark) => !gone.has(mark.id));
  store.write(from, left.length ? left : null);
}

async function send(batch) {
  if (!time.known()) await time.measure();
  for (const mark of batch) {
    if (mark.raw) mark.at = time.settled(mark);
    mark.raw = false;
  }
  keep();
  const told = await ask("/marks", { marks: batch.map(sent) });
  const gone = new Set(told.taken);
  for (const one of told.refused) {
    const mark = batch.find((other) => other.id === one.id);
    if (!mark) continue;
    gone.add(one.id);
    refused = [...refused, { ...sent(mark), why: one.why }];
  }
  if (told.refused.length) store.write(REFUSED, refused);
  const others = new Set(batch.filter((mark) => mark.from && gone.has(mark.id)).map((mark) => mark.from));
  queue = queue.filter((mark) => !gone.has(mark.id));
  keep();
  for (const from of others) release(from, gone);
  return gone.size;
}

export async function deliver() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  try {
    for (let batch = ready(); batch.length; batch = ready()) {
      if (!(await send(batch))) throw new Error("The bench log took none of the marks.");
      tell();
    }
    problem = "";
    pause = SOON_MS;
  } catch (error) {
    problem = error.message;
    pause = Math.min(pause * 2, SELDOM_MS);
  } finally {
    sending = false;
    timer = setTimeout(deliver, pause);
    tell();
  }
}

// What pages that are gone had not delivered. A page that is open in another tab says so, and delivers its own.
async function adopt() {
  const open = new Set([device]);
  if ("BroadcastChannel" in globalThis) {
    const others = new BroadcastChannel(`bench-${store.job}`);
    others.onmessage = ({ data }) => {
      if (data.here) open.add(data.here);
      else others.postMessage({ here: device });
    };
    others.postMessage({ who: true });
    await new Promise((done) => setTimeout(done, HEARD_MS));
  }
  const left = [];
  for (const from of store.names(MINE)) {
    if (open.has(from.slice(MINE.length))) continue;
    left.push(...marksOf(from).map((mark) => ({ ...mark, open: false, era: -1, from })));
  }
  queue = [...left, ...queue];
  tell();
  deliver();
}

export function begin(told) {
  tell = told;
  store.write(TABS, tabs, "sessionStorage");
  addEventListener("online", deliver);
  addEventListener("beforeunload", (event) => unkept() && event.preventDefault()); // the browser asks whether to leave
  adopt();
}
