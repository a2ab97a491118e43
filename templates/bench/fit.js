// The title, as large as it can be: no word of it broken, and all of it above the buttons. bench.css has the sizes.
const SIZES = 9;
const title = document.getElementById("name");
const board = document.getElementById("board");

function fits() {
  if (title.scrollWidth > title.clientWidth) return false;
  if (getComputedStyle(board).position !== "sticky") return true; // all of the page scrolls
  const box = title.getBoundingClientRect();
  return box.bottom + scrollY <= innerHeight - board.offsetHeight;
}

export function fit() {
  // while words are asked for the buttons stand higher, and a keyboard on the screen takes half of it
  if (board.querySelector("dialog[open]")) return;
  for (let size = 0; size < SIZES; size += 1) {
    title.dataset.size = size;
    if (fits()) return;
  }
}

addEventListener("resize", fit);
