// The clock that cameras film: the server's time as a QR code, painted anew every 11 refreshes of a 60 Hz screen.
// A code holds "EK:" and 13 digits of milliseconds since 1970: version 1, level Q, alphanumeric.
import { qrcode } from "/static/qrcode.js";
import * as queue from "/static/queue.js";
import * as time from "/static/time.js";

const EVERY = (11 / 60) * 1000;
const QUIET = 4;
const box = document.getElementById("watch");
const digits = document.getElementById("digits");
const pen = document.getElementById("code").getContext("2d");
const CHIRP = { seconds: 0.5, from: 1500, to: 6000, taper: 0.1 };
const PAUSES = [900, 1700]; // at random between: then four chirps in a row are like no other four
let audio = null;
let timer = 0;
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
  digits.textContent = new Date(ms).toISOString().slice(11, 23);
}

function step(stamp) {
  if (!running) return;
  if (stamp - shown >= EVERY - 4) {
    shown = stamp;
    paint(time.at(stamp));
  }
  requestAnimationFrame(step);
}

// A tone that sweeps from 1.5 to 6 kHz, its ends tapered (Tukey): what a microphone hears where a lens sees nothing.
function sweep(context) {
  const length = Math.round(CHIRP.seconds * context.sampleRate);
  const buffer = context.createBuffer(1, length, context.sampleRate);
  const wave = buffer.getChannelData(0);
  const edge = (CHIRP.taper / 2) * length;
  for (let n = 0; n < length; n += 1) {
    const t = n / context.sampleRate;
    const near = Math.min(n, length - 1 - n);
    const gain = near < edge ? 0.5 - 0.5 * Math.cos((Math.PI * near) / edge) : 1;
    wave[n] = 0.8 * gain * Math.sin(2 * Math.PI * (CHIRP.from * t + ((CHIRP.to - CHIRP.from) / 2 / CHIRP.seconds) * t * t));
  }
  return buffer;
}

// the mark tells when the tone leaves the speaker, by the audio's own clock
function chirp() {
  if (!running || audio?.state !== "running") return;
  timer = setTimeout(chirp, PAUSES[0] + Math.random() * (PAUSES[1] - PAUSES[0]));
  const source = audio.createBufferSource();
  source.buffer = sweep(audio);
  source.connect(audio.destination);
  const begin = audio.currentTime + 0.1;
  source.start(begin);
  const heard = audio.getOutputTimestamp();
  if (!heard.performanceTime) return;
  queue.press("chirp", "", heard.performanceTime + (begin - heard.contextTime) * 1000);
}

export async function open() {
  if (!time.known()) await time.measure();
  running = true;
  shown = 0;
  box.showModal();
  requestAnimationFrame(step);
  try {
    audio ??= new AudioContext();
    await audio.resume();
    clearTimeout(timer);
    timer = setTimeout(chirp, 300);
  } catch {
    // without sound the code alone tells the time
  }
}

box.addEventListener("close", () => {
  running = false;
  clearTimeout(timer);
});
document.getElementById("enough").addEventListener("click", () => box.close());
