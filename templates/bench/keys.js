// Which key does what: a keyboard's, a number pad's, or a pedal's, which sends the key it is set to.
import * as store from "/static/store.js";

const KEPT = "bench-keys"; // a pedal belongs to the device, not to a job
const table = document.getElementById("bound");
let actions = [];
let bound = store.read(KEPT, {});
let asked = null;

const keyOf = (action) => bound[action.name] ?? action.key;
const told = (key) => ({ " ": "Space", "": "none" })[key] ?? key;

function draw() {
  const rows = actions.map((action) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `${action.title}: ${asked === action ? "press a key" : told(keyOf(action))}`;
    button.addEventListener("click", () => {
      asked = action;
      draw();
      table.children[actions.indexOf(action)].focus();
    });
    return button;
  });
  table.replaceChildren(...rows);
  for (const action of actions) {
    if (keyOf(action)) action.button?.setAttribute("aria-keyshortcuts", told(keyOf(action)));
    else action.button?.removeAttribute("aria-keyshortcuts");
  }
}

function bind(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
  const action = asked;
  asked = null;
  if (event.key !== "Escape") {
    // a key does one thing: who had it before has none
    for (const other of actions) if (other !== action && keyOf(other) === event.key) bound[other.name] = "";
    bound[action.name] = event.key;
    store.write(KEPT, bound);
  }
  draw();
  table.children[actions.indexOf(action)].focus();
}

function types(target) {
  return target.matches("select, textarea, input:not([type=checkbox])");
}

export function begin(all) {
  actions = all;
  draw();
  addEventListener("keydown", (event) => asked && !event.repeat && bind(event), { capture: true });
  addEventListener("keydown", (event) => {
    if (event.repeat || event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
    if (document.querySelector("dialog:modal") || types(event.target)) return;
    const hit = actions.find((action) => keyOf(action) === event.key);
    if (!hit) return;
    event.preventDefault();
    hit.run(event.timeStamp);
  });
  document.getElementById("usual").addEventListener("click", () => {
    bound = {};
    asked = null;
    store.write(KEPT, null);
    draw();
  });
  document.getElementById("table").addEventListener("close", () => {
    asked = null;
    draw();
  });
}
