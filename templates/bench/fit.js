// All that is read from afar, as large as it can be: no word of the title broken, and title, cautions, what must be
// filmed and the point of no return all in view. bench.css has the sizes.
const TITLE = [0, 1, 2, 3, 4, 5, 6, 7, 8, 8, 9, 9, 9, 9, 9];
const REST = [0, 1, 2, 3, 4, 5, 6, 6, 6, 7, 8, 9, 10, 11, 12];
const BROKEN = 8; // from this on a word may be
const FADE = 12; // px at the bottom, where it goes on
const sizes = document.body.dataset;
const title = document.getElementById("name");
const main = document.querySelector("main");
const board = document.getElementById("board");

const whole = () => title.scrollWidth <= title.clientWidth;

function inView() {
  if (getComputedStyle(main).overflowY === "visible") return true; // all of the page scrolls
  const last = [...main.querySelectorAll("#name, .must")].at(-1).getBoundingClientRect();
  return last.bottom + main.scrollTop + FADE <= main.getBoundingClientRect().bottom;
}

export function fit() {
  // while words are asked for the buttons stand higher, and a keyboard on the screen takes half of it
  if (board.querySelector("dialog[open]")) return;
  let least = 0;
  sizes.read = 0;
  for (sizes.title = 0; !whole() && least < BROKEN; sizes.title = least) least += 1;
  for (const [at, rest] of REST.entries()) {
    sizes.read = rest;
    sizes.title = Math.max(TITLE[at], least);
    if (inView()) return;
  }
}

addEventListener("resize", fit);
new ResizeObserver(fit).observe(board);
