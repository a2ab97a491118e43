// The bench log: the step at hand, large, and a button for each mark. Here the parts are put together.
import * as awake from "/static/awake.js";
import * as clock from "/static/clock.js";
import * as keys from "/static/keys.js";
import { ask } from "/static/net.js";
import { progress, standing } from "/static/progress.js";
import * as queue from "/static/queue.js";
import * as time from "/static/time.js";
import * as view from "/static/view.js";
import * as words from "/static/words.js";

const LOOK_MS = 2000;
const MEASURE_MS = 60000;
const BOUNCE_MS = 800;
const KINDS = ["start", "done", "retake", "keep", "wait", "problem", "note", "reading"];
const $ = (id) => document.getElementById(id);

let sheet = { steps: [] };
let edition = "";
let marks = [];
let markEdition = "";
let current = -1;
let problem = "";
let unread = 0;
let doneAt = -Infinity;
let mine = []; // pressed here since the page was opened, whether the server has them or not

function all() {
  const theirs = new Set(marks.map((mark) => mark.id));
  return [...marks, ...mine.filter((mark) => !theirs.has(mark.id))];
}

const last = () => standing(all()).findLast((mark) => queue.isOurs(mark) && mark.kind !== "chirp");

function draw() {
  view.draw({ sheet, marks: all(), current, last: last(), isOurs: queue.isOurs, redraw: draw });
}

function tell() {
  const lines = unread === 1 ? "1 line" : `${unread} lines`;
  const torn = unread ? `${lines} of bench.jsonl cannot be read; episodekit check says why.` : "";
  view.tell(queue.waiting(), queue.asking(), [queue.trouble(), problem, sheet.problem, torn], queue.refused);
}

function up() {
  document.querySelector("main").scrollTo({ top: 0 });
  scrollTo({ top: 0 }); // where there is so little room that all of the page scrolls
}

function go(number) {
  current = Math.min(Math.max(number, 0), sheet.steps.length - 1);
  draw();
  up();
}

function press(kind, stamp) {
  words.close();
  const step = sheet.steps[current];
  if (!step) return;
  if (kind === "done") {
    // a pedal that bounces, or a double tap: the first has led to a step that nobody began
    const bounced = stamp - doneAt < BOUNCE_MS && progress(all(), sheet.steps).open !== step.id;
    doneAt = stamp;
    if (bounced) return;
  }
  navigator.vibrate?.(30);
  const mark = queue.press(kind, step.id, stamp, words.asks(kind) ? { open: true } : {});
  mine.push(mark);
  if (words.asks(kind)) words.ask(mark, draw);
  if (kind === "done") {
    const { done } = progress(all(), sheet.steps);
    const next = sheet.steps.findIndex((one, at) => at > current && !done.has(one.id));
    if (next >= 0) current = next;
    up();
  }
  draw();
}

function undo(stamp) {
  words.close();
  const mark = last();
  if (!mark) return;
  mine.push(queue.press("undo", "", stamp, { of: mark.id }));
  const at = sheet.steps.findIndex((step) => step.id === mark.step);
  if (at >= 0) current = at;
  draw();
}

function film() {
  words.close();
  clock.open((stamp) => mine.push(queue.press("chirp", "", stamp))).catch((error) => {
    problem = error.message;
    tell();
  });
}

async function readJob() {
  const here = sheet.steps[current]?.id;
  sheet = await ask("/job");
  edition = sheet.edition;
  if (current < 0) {
    const { done, open } = progress(all(), sheet.steps);
    const at = sheet.steps.findIndex((step) => (open ? step.id === open : !done.has(step.id)));
    current = Math.max(at, 0);
  } else {
    const at = sheet.steps.findIndex((step) => step.id === here);
    current = at >= 0 ? at : Math.min(current, sheet.steps.length - 1);
  }
}

async function look() {
  const sent = performance.now();
  try {
    const told = await ask(`/marks?since=${marks.length}&edition=${encodeURIComponent(markEdition)}`);
    const clockSet = time.contradicted(told.now, sent);
    marks = [...marks.slice(0, told.since), ...told.marks];
    markEdition = told.edition;
    unread = told.unread;
    const theirs = new Set(told.marks.map((mark) => mark.id));
    mine = mine.filter((mark) => !theirs.has(mark.id));
    if (told.job !== edition) await readJob();
    if (!time.known() || clockSet) await time.measure();
    queue.deliver(); // the server is there: no need to wait for the next try
    problem = "";
    draw();
  } catch (error) {
    problem = error.message;
  }
  tell();
}

async function again(what, every) {
  for (;;) {
    await what();
    await new Promise((done) => setTimeout(done, every));
  }
}

const actions = [
  ...KINDS.map((name, at) => ({
    name,
    title: $(`press-${name}`).textContent.trim(),
    key: String(at + 1),
    button: $(`press-${name}`),
    run: (stamp) => press(name, stamp),
  })),
  { name: "undo", title: "Undo", key: "0", button: $("undo"), run: undo },
  { name: "before", title: "Step before", key: "ArrowLeft", button: $("before"), run: () => go(current - 1) },
  { name: "after", title: "Step after", key: "ArrowRight", button: $("after"), run: () => go(current + 1) },
  { name: "clock", title: "Clock to film", key: "c", button: $("clock"), run: film },
  { name: "type", title: "Type the words", key: "Enter", run: words.type },
];
for (const action of actions) action.button?.addEventListener("click", (event) => action.run(event.timeStamp));
$("jump").addEventListener("change", () => {
  go(Number($("jump").value));
  $("jump").blur(); // or a pedal pressed next would look for a step by its first letter
});
$("keys").addEventListener("click", () => {
  words.close();
  $("table").showModal();
});
$("seen").addEventListener("click", queue.forgive);

keys.begin(actions);
queue.begin(tell);
awake.begin();
again(look, LOOK_MS);
again(() => time.measure().catch(() => {}), MEASURE_MS);
