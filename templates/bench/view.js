// What the page shows. All words go in by textContent, so nothing that is written in a plan or a mark can run.
import { fit } from "/static/fit.js";
import { progress, standing } from "/static/progress.js";
import * as store from "/static/store.js";

const FILMED = `bench-filmed-${store.job}`;
const SHOWN = 30;
const NAMED = 3; // of what is missing; from two metres nobody reads more
const $ = (id) => document.getElementById(id);
const make = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text, ...more });
const filmed = new Set(store.read(FILMED, []));
const drawn = new Map();

// only what changed is drawn: focus stays where it is, and a screen reader is not told the same again
function change(name, value, how) {
  const seen = JSON.stringify(value);
  if (drawn.get(name) === seen) return;
  drawn.set(name, seen);
  how();
}

const put = (id, text) => change(id, text, () => ($(id).textContent = text));

// Words of a plan or a mark among the page's: whichever way they run, and whatever they open and do not close, those
// around them keep their order (Unicode Standard Annex 9: an isolate, U+2068 to U+2069).
function apart(text = "") {
  if (!/[\u0590-\u08ff\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufefc]/.test(text)) return text;
  let open = 0;
  let kept = "";
  for (const sign of text) {
    if (sign === "\u2069" && !open) continue;
    open += "\u2066\u2067\u2068".includes(sign) ? 1 : sign === "\u2069" ? -1 : 0;
    kept += sign;
  }
  return `\u2068${kept}${"\u2069".repeat(open + 1)}`;
}

function list(title, items, name = "") {
  const part = make("div", "", { className: name });
  const rows = make("ul", "");
  rows.append(...items.map((item) => (typeof item === "string" ? make("li", item, { dir: "auto" }) : item)));
  part.append(make("h2", title), rows);
  return part;
}

function sign(name) {
  const [svg, use] = ["svg", "use"].map((tag) => document.createElementNS("http://www.w3.org/2000/svg", tag));
  use.setAttribute("href", `#sign-${name}`);
  svg.setAttribute("aria-hidden", "true");
  svg.append(use);
  return svg;
}

function shotRow(shot, redraw) {
  const row = make("li", "", { className: shot.must ? "must" : "" });
  const label = make("label", "");
  const tick = make("input", "", { type: "checkbox", checked: filmed.has(shot.shot) });
  tick.addEventListener("change", () => {
    if (tick.checked) filmed.add(shot.shot);
    else filmed.delete(shot.shot);
    store.write(FILMED, [...filmed]);
    redraw();
  });
  const words = make("span", `${apart(shot.what)} `, { dir: "auto" });
  words.append(make("small", [shot.camera, shot.length, shot.must ? "" : "b-roll"].filter(Boolean).join(" · ")));
  label.append(sign("film"), words, tick);
  row.append(label);
  return row;
}

const named = (steps) => steps.slice(0, NAMED).map((step) => `“${apart(step.title)}”`).join(", ");

// Nothing comes after what was just done: every step is, or the last.
const isOver = (sheet, current, done) =>
  sheet.steps.every((step) => done.has(step.id)) || (current === sheet.steps.length - 1 && done.has(sheet.steps[current].id));

// The next point of no return: its words, what is missing for it in few words, and in all.
function wall(sheet, current, done) {
  const here = sheet.steps[current];
  const next = sheet.steps.slice(current).find((step) => step.no_return && !done.has(step.id));
  if (!next && isOver(sheet, current, done)) {
    const left = sheet.steps.filter((step) => !done.has(step.id));
    const more = left.length > NAMED ? ` and ${left.length - NAMED} more` : "";
    const what = left.length ? `Not done: ${named(left)}${more}.` : "Every step is done.";
    return [what, "Film the clock once more before the cameras stop.", []];
  }
  if (!next) return ["", "", []];
  const shots = new Map(sheet.steps.flatMap((step) => step.shots.map((shot) => [shot.shot, apart(shot.what)])));
  const titles = new Map(sheet.steps.map((step) => [step.id, apart(step.title)]));
  const own = here.shots.filter((shot) => next.film.includes(shot.shot) && !filmed.has(shot.shot)).length;
  const missing = [
    ...(own ? [own === 1 ? "film the view above" : "film the views above"] : []),
    ...next.after.filter((id) => !done.has(id)).map((id) => (id === here.id ? "do this step" : `do “${titles.get(id)}”`)),
    ...next.film
      .filter((id) => !filmed.has(id) && !here.shots.some((shot) => shot.shot === id))
      .map((id) => `film ${shots.get(id)}`),
  ];
  const first = missing.length > NAMED ? [...missing.slice(0, NAMED - 1), `${missing.length - NAMED + 1} more`] : missing;
  const rest = missing.length ? `Missing: ${first.join("; ")}.` : "Nothing is missing for it.";
  return [next === here ? "Point of no return." : `${next.title}.`, rest, missing.slice(NAMED - 1)];
}

function said(mark, sheet) {
  const title = sheet.steps.find((step) => step.id === mark.step)?.title ?? mark.step;
  const when = mark.at === null ? mark.time : new Date(mark.at).toLocaleTimeString([], { hour12: false });
  return [when, mark.kind, apart(title), apart(mark.text)].filter(Boolean).join(" · ");
}

function logRows(marks, sheet, isOurs) {
  const stand = new Set(standing(marks));
  // chirps are many, and nobody pressed them
  return marks.filter((mark) => mark.kind !== "chirp").slice(-SHOWN).reverse().map((mark) => {
    const words = [said(mark, sheet)];
    if (mark.kind !== "undo" && !stand.has(mark)) words.push("(undone)");
    if (!isOurs(mark)) words.push("(not of this device)");
    return words.join(" ");
  });
}

export function draw({ sheet, marks, current, last, isOurs, redraw }) {
  const step = sheet.steps[current];
  if (!step) return;
  const { begun, done, open, amiss } = progress(marks, sheet.steps);
  put("title", sheet.title);
  put("section", `${current + 1} of ${sheet.steps.length} · ${apart(step.section)}`);
  put("name", step.title);
  const rest = begun.has(step.id) ? "Begun, not done" : "Not begun";
  const told = [open === step.id ? "Under way" : done.has(step.id) ? "Done" : rest];
  if (step.optional) told.push("At any time");
  if (step.bench) told.push(`planned ${step.bench}`);
  put("standing", told.join(" · "));
  $("board").dataset.step = open === step.id ? "open" : done.has(step.id) ? "done" : "new";
  change("cautions", step.cautions, () => {
    $("cautions").hidden = !step.cautions.length;
    $("warned").replaceChildren(...step.cautions.map((text) => make("li", text, { dir: "auto" })));
  });
  const [next, missing, more] = wall(sheet, current, done);
  change("lists", [step, filmed.size, more], () => {
    const parts = [];
    if (step.shots.length) parts.push(list("To film", step.shots.map((shot) => shotRow(shot, redraw)), "shots"));
    if (step.parts.length) parts.push(list("Comes off", step.parts));
    if (step.tools.length) parts.push(list("Tools", step.tools));
    if (step.needs.length) parts.push(list("First", step.needs));
    if (step.notes.length) parts.push(list("Notes", step.notes));
    if (more.length > 1) parts.push(list("Also missing", more));
    const ticked = document.activeElement?.matches("#lists input");
    const at = [...$("lists").querySelectorAll("input")].indexOf(document.activeElement);
    $("lists").replaceChildren(...parts);
    if (ticked) $("lists").querySelectorAll("input")[at]?.focus();
  });
  change("jump", [sheet.steps.map((one) => one.title), [...done], [...begun], open], () => {
    const how = (id) => (id === open ? " (under way)" : done.has(id) ? " (done)" : begun.has(id) ? " (not done)" : "");
    const options = sheet.steps.map((one, at) =>
      make("option", `${at + 1}. ${apart(one.title)}${how(one.id)}`, { value: String(at) }),
    );
    $("jump").replaceChildren(...options);
  });
  $("jump").value = String(current);
  $("before").disabled = current === 0;
  $("after").disabled = current === sheet.steps.length - 1;
  const over = isOver(sheet, current, done);
  put("next", next);
  put("missing", missing);
  $("wall").hidden = !next;
  $("wall").className = over ? "over" : step.no_return && !done.has(step.id) ? "now" : "";
  $("ahead").hidden = $("wall").className !== "";
  change("fit", [step, next, missing], fit);
  $("undo").disabled = !last;
  const pressed = last ? said(last, sheet) : "No mark of this device yet.";
  const other = sheet.steps.find((one) => one.id === amiss.get(last))?.title;
  const ended = begun.has(last?.step) ? "Not under way: " : "Never started: ";
  const why = last?.kind === "done" ? ended : `Not done: “${apart(other)}”. `;
  put("latest", amiss.has(last) ? why + pressed : pressed);
  $("latest").classList.toggle("amiss", amiss.has(last));
  const rows = logRows(marks, sheet, isOurs);
  change("log", rows, () => $("log").replaceChildren(...rows.map((row) => make("li", row, { dir: "auto" }))));
}

export function tell(left, asking, problems, refused) {
  const waits = left ? `${left} ${left === 1 ? "mark waits" : "marks wait"}${asking ? " for words" : ""}.` : "All marks are saved.";
  put("state", [waits, ...new Set(problems.filter(Boolean))].join(" "));
  $("state").classList.toggle("waits", (left > 0 && !asking) || problems.some(Boolean));
  change("refused", refused, () => {
    $("refused").hidden = !refused.length;
    const what = (mark) => [mark.kind, mark.step, mark.text].filter(Boolean).join(" · ");
    const rows = refused.map((mark) => make("li", `${what(mark)}: ${mark.why}`, { dir: "auto" }));
    $("not-taken").replaceChildren(...rows);
  });
}
