// The bench log: the step at hand, large, and a button for each mark. All words go in by textContent, so that nothing
// written in a plan or a mark can run.
import * as clock from "/static/clock.js";
import * as queue from "/static/queue.js";
import * as time from "/static/time.js";

const KINDS = [
  ["start", "Start", "1", true],
  ["done", "Done", "2", true],
  ["retake", "Retake", "3"],
  ["keep", "Keep", "4"],
  ["wait", "Wait", "5"],
  ["problem", "Problem", "6"],
  ["note", "Note", "7"],
  ["reading", "Reading", "8"],
];
const WORDS = { problem: "What is wrong?", note: "What is to be noted?", reading: "What does the meter say?" };
const OTHERS = [
  ["undo", "Undo", "0"],
  ["before", "Step before", "ArrowLeft"],
  ["after", "Step after", "ArrowRight"],
  ["clock", "Clock to film", "c"],
];
const TYPE_MS = 20000;
const $ = (id) => document.getElementById(id);
const make = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text, ...more });

let sheet = { steps: [] };
let edition = "";
let marks = [];
let markEdition = "";
let current = 0;
let filmed = new Set(JSON.parse(localStorage.getItem("bench-filmed") ?? "[]"));
let bound = JSON.parse(localStorage.getItem("bench-keys") ?? "{}");
const mine = [];

const keyOf = (name, usual) => bound[name] ?? usual;
const actions = new Map();

function standing() {
  const undone = new Set();
  const whole = [...marks, ...mine.filter((mark) => !marks.some((other) => other.id === mark.id))];
  for (const mark of [...whole].reverse()) {
    if (mark.kind === "undo" && !undone.has(mark.id)) undone.add(mark.of);
  }
  return whole.filter((mark) => mark.kind !== "undo" && !undone.has(mark.id));
}

function state() {
  const done = new Set();
  let open = "";
  for (const mark of standing()) {
    if (mark.kind === "done") {
      done.add(mark.step || open);
      open = "";
    } else if (mark.kind === "start" || mark.kind === "retake") {
      open = mark.step || open;
      done.delete(open);
    }
  }
  return { done, open };
}

function list(title, items) {
  const part = make("div", "");
  part.append(make("h2", title));
  const rows = make("ul", "");
  for (const item of items) rows.append(typeof item === "string" ? make("li", item, { dir: "auto" }) : item);
  part.append(rows);
  return part;
}

function shotRow(shot) {
  const row = make("li", "");
  const label = make("label", "");
  const tick = make("input", "", { type: "checkbox", checked: filmed.has(shot.shot) });
  tick.addEventListener("change", () => {
    if (tick.checked) filmed.add(shot.shot);
    else filmed.delete(shot.shot);
    localStorage.setItem("bench-filmed", JSON.stringify([...filmed]));
    draw();
  });
  const told = [shot.what, shot.camera, shot.length].filter(Boolean).join(" · ");
  label.append(tick, make("span", told, { dir: "auto" }));
  row.append(label);
  return row;
}

function wall(now) {
  const next = sheet.steps.slice(current).find((step) => step.no_return && !now.done.has(step.id));
  if (!next) return "";
  const shots = new Map(sheet.steps.flatMap((step) => step.shots.map((shot) => [shot.shot, shot.what])));
  const titles = new Map(sheet.steps.map((step) => [step.id, step.title]));
  const missing = [
    ...next.after.filter((id) => !now.done.has(id)).map((id) => `do “${titles.get(id)}”`),
    ...next.film.filter((id) => !filmed.has(id)).map((id) => `film ${shots.get(id)}`),
  ];
  const rest = missing.length ? `Still missing: ${missing.join("; ")}.` : "Nothing is missing for it.";
  return `Next point of no return: ${next.title}. ${rest}`;
}

function draw() {
  const step = sheet.steps[current];
  if (!step) return;
  const now = state();
  $("title").textContent = sheet.title;
  $("section").textContent = step.section;
  $("name").textContent = step.title;
  const told = [now.open === step.id ? "Under way" : now.done.has(step.id) ? "Done" : "Not begun"];
  if (step.no_return) told.push("Point of no return");
  if (step.optional) told.push("At any time");
  if (step.bench) told.push(`planned ${step.bench}`);
  $("standing").textContent = told.join(" · ");
  $("cautions").replaceChildren(...step.cautions.map((text) => make("p", `Caution: ${text}`, { dir: "auto" })));
  const parts = [];
  if (step.needs.length) parts.push(list("First", step.needs));
  if (step.shots.length) parts.push(list("To film", step.shots.map(shotRow)));
  if (step.tools.length) parts.push(list("Tools", step.tools));
  if (step.parts.length) parts.push(list("Comes off", step.parts));
  if (step.notes.length) parts.push(list("Notes", step.notes));
  $("lists").replaceChildren(...parts);
  $("jump").value = String(current);
  $("before").disabled = current === 0;
  $("after").disabled = current === sheet.steps.length - 1;
  $("wall").textContent = wall(now);
  const last = mine.findLast((mark) => standing().includes(mark));
  $("undo").disabled = !last;
  $("latest").textContent = last ? said(last) : "No mark of this device yet.";
}

function said(mark) {
  const title = sheet.steps.find((step) => step.id === mark.step)?.title ?? "";
  const when = new Date(mark.at).toLocaleTimeString([], { hour12: false });
  return [when, mark.kind, title, mark.text].filter(Boolean).join(" · ");
}

function tell(problem) {
  const left = queue.waiting();
  const waits = left ? `${left} ${left === 1 ? "mark waits" : "marks wait"}.` : "All marks are saved.";
  const bad = queue.refused.map((mark) => `Not taken: ${mark.kind} (${mark.why})`);
  $("state").textContent = [waits, problem, ...bad].filter(Boolean).join(" ");
  $("state").classList.toggle("waits", left > 0 || bad.length > 0);
}

function go(number) {
  current = Math.min(Math.max(number, 0), sheet.steps.length - 1);
  draw();
}

function press(kind, stamp) {
  const step = sheet.steps[current];
  if (!step) return;
  if (navigator.vibrate) navigator.vibrate(30);
  const asks = kind in WORDS;
  const mark = queue.press(kind, step.id, stamp, asks ? { open: true } : {});
  mine.push(mark);
  if (asks) ask(mark);
  if (kind === "done") {
    const now = state();
    const next = sheet.steps.findIndex((one, at) => at > current && !now.done.has(one.id));
    if (next >= 0) current = next;
  }
  draw();
}

// the press has fixed the time; the words may come later, and if none come the mark goes without
function ask(mark) {
  const box = $("words");
  if (box.open) box.close();
  $("asked").textContent = WORDS[mark.kind];
  const field = $("text");
  field.value = "";
  let late = setTimeout(() => box.close(), TYPE_MS);
  field.oninput = () => {
    clearTimeout(late);
    late = setTimeout(() => box.close(), TYPE_MS);
  };
  box.onclose = () => {
    clearTimeout(late);
    queue.close(mark, field.value);
    draw();
  };
  box.showModal();
}

function undo(stamp) {
  const last = mine.findLast((mark) => standing().includes(mark));
  if (!last) return;
  mine.push(queue.press("undo", "", stamp, { of: last.id }));
  const at = sheet.steps.findIndex((step) => step.id === last.step);
  if (at >= 0) current = at;
  draw();
}

async function look() {
  const answer = await fetch(`/marks?since=${marks.length}&edition=${encodeURIComponent(markEdition)}`);
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.why);
  marks = [...marks.slice(0, told.since), ...told.marks];
  markEdition = told.edition;
  if (told.job !== edition) await readJob();
}

async function readJob() {
  const answer = await fetch("/job");
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.why);
  const here = sheet.steps[current]?.id;
  sheet = told;
  edition = told.edition;
  const options = told.steps.map((step, at) => make("option", `${at + 1}. ${step.title}`, { value: String(at) }));
  $("jump").replaceChildren(...options);
  const same = told.steps.findIndex((step) => step.id === here);
  if (same >= 0) current = same;
}

async function turn(first) {
  try {
    await look();
    if (first) {
      const now = state();
      const at = sheet.steps.findIndex((step) => (now.open ? step.id === now.open : !now.done.has(step.id)));
      current = Math.max(at, 0);
    }
    draw();
    tell(sheet.problem ?? "");
  } catch (error) {
    tell(error instanceof TypeError ? "The bench log cannot be reached." : error.message);
  }
}

function bindings() {
  const rows = [...KINDS, ...OTHERS].map(([name, title, usual]) => {
    const button = make("button", `${title}: ${keyOf(name, usual)}`, { type: "button" });
    button.addEventListener("click", () => {
      button.textContent = `${title}: press a key`;
      const take = (event) => {
        event.preventDefault();
        event.stopPropagation();
        if (event.key !== "Escape") {
          bound[name] = event.key;
          localStorage.setItem("bench-keys", JSON.stringify(bound));
        }
        bindings();
      };
      addEventListener("keydown", take, { capture: true, once: true });
    });
    return button;
  });
  $("bound").replaceChildren(...rows);
  for (const [name, title, usual] of KINDS) {
    const button = $(`press-${name}`);
    button.textContent = title;
    button.setAttribute("aria-keyshortcuts", keyOf(name, usual));
  }
}

for (const [name, title, , main] of KINDS) {
  const button = make("button", title, { type: "button", id: `press-${name}`, className: main ? "main" : "" });
  button.addEventListener("click", (event) => press(name, event.timeStamp));
  $("marks").append(button);
  actions.set(name, (stamp) => press(name, stamp));
}
actions.set("undo", undo);
actions.set("before", () => go(current - 1));
actions.set("after", () => go(current + 1));
actions.set("clock", () => clock.open().catch(() => tell("The bench log cannot be reached.")));
$("undo").addEventListener("click", (event) => undo(event.timeStamp));
$("before").addEventListener("click", () => go(current - 1));
$("after").addEventListener("click", () => go(current + 1));
$("jump").addEventListener("change", () => go(Number($("jump").value)));
$("clock").addEventListener("click", actions.get("clock"));
$("keys").addEventListener("click", () => {
  bindings();
  $("table").showModal();
});
addEventListener("keydown", (event) => {
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
  if (document.querySelector("dialog[open]") || event.target.matches("input, select, textarea")) return;
  const hit = [...KINDS, ...OTHERS].find(([name, , usual]) => keyOf(name, usual) === event.key);
  if (!hit) return;
  event.preventDefault();
  actions.get(hit[0])(event.timeStamp);
});

// over plain http on a local network browsers do not offer this; then the device's own setting keeps it awake
async function awake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // a low battery; nothing to be done from here
  }
}
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && awake());

bindings();
queue.listen(tell);
awake();
time.measure().catch(() => {});
setInterval(() => time.measure().catch(() => {}), 60000);
await turn(true);
queue.deliver();
setInterval(() => turn(false), 2000);
