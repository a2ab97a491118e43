// The clock that cameras film: the server's time as a QR code, painted anew every 11 refreshes of a 60 Hz screen.
// A code holds "EK:" and 13 digits of milliseconds since 1970: version 1, level Q, alphanumeric.
import * as chirp from "/static/chirp.js";
import { qrcode } from "/static/qrcode.js";
import * as time from "/static/time.js";

const EVERY = (11 / 60) * 1000;
const QUIET = 4;
const box = document.getElementById("watch");
const digits = document.getElementById("digits");
const surely = document.getElementById("surely");
const pen = document.getElementById("code").getContext("2d");
let running = false;
let shown = 0;

function paint(ms) {
  const made = qrcode(1, "Q");
  made.addData(`EK:${String(Math.round(ms)).padStart(13, "0")}`, "Alphanumeric");
  made.make();
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, 29, 29);
  pen.fillStyle = "#000";
  for (let row = 0; row < 21; row += 1) {
    for (let column = 0; column < 21; column += 1) {
      if (made.isDark(row, column)) pen.fillRect(column + QUIET, row + QUIET, 1, 1);
    }
  }
  const local = new Date(ms);
  const parts = [local.getHours(), local.getMinutes(), local.getSeconds()].map((part) => String(part).padStart(2, "0"));
  digits.textContent = `${parts.join(":")}.${String(local.getMilliseconds()).padStart(3, "0")}`;
}

function step(stamp) {
  if (!running) return;
  if (!time.known()) {
    // the device slept: a wrong time on screen would be believed
    box.close();
    return;
  }
  if (stamp - shown >= EVERY - 4) {
    shown = stamp;
    paint(time.at(stamp));
    surely.textContent = `within ${Math.ceil(time.within())} ms of the bench log`;
  }
  requestAnimationFrame(step);
}

export async function open(chirped) {
  if (running) return;
  await time.measure();
  running = true;
  shown = 0;
  box.showModal();
  requestAnimationFrame(step);
  await chirp.begin(chirped).catch(() => {}); // without sound the code is enough
}

box.addEventListener("close", () => {
  running = false;
  chirp.end();
});
document.getElementById("enough").addEventListener("click", () => box.close());
