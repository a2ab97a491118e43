// Words for a mark, typed after the press. The press has fixed the time. The field does not take the keyboard by itself:
// a foot pedal pressed next would write into it instead of logging.
import * as queue from "/static/queue.js";

const ASKED = { problem: "What is wrong?", note: "What is to be noted?", reading: "What does the meter say?" };
const TYPE_MS = 20000;
const box = document.getElementById("words");
const field = document.getElementById("text");
let mark = null;
let late = 0;
let before = null;
let after = () => {};

export const asks = (kind) => kind in ASKED;

function wait() {
  clearTimeout(late);
  late = setTimeout(close, TYPE_MS);
}

export function ask(one, then) {
  mark = one;
  after = then;
  document.getElementById("asked").textContent = ASKED[one.kind];
  field.value = "";
  before = document.activeElement;
  box.setAttribute("open", ""); // show() would move the focus into the field
  box.focus({ preventScroll: true });
  wait();
}

export function type() {
  if (mark) field.focus();
}

export function close() {
  clearTimeout(late);
  if (!mark) return;
  const one = mark;
  mark = null;
  const inside = box.contains(document.activeElement);
  box.removeAttribute("open");
  if (inside) {
    document.activeElement.blur(); // or it would take what is pressed until the next picture is drawn
    before?.focus({ preventScroll: true });
  }
  queue.close(one, field.value);
  after();
}

field.addEventListener("input", () => {
  if (mark) queue.type(mark, field.value);
  wait();
});
box.querySelector("form").addEventListener("submit", (event) => {
  event.preventDefault();
  close();
});
addEventListener("keydown", (event) => event.key === "Escape" && close());
addEventListener("pagehide", close);
document.addEventListener("visibilitychange", () => document.hidden && close());
