// The chirp that clips are placed by where no clock is in the picture: half a second, from 1.5 to 6 kHz, faded at both
// ends. Each that was heard to its end is logged with the instant at which it left the speaker, as far as browsers know.
import * as queue from "/static/queue.js";

const LOWEST = 1500;
const HIGHEST = 6000;
const LENGTH = 0.5;
const FADED = 0.1;
// pauses differ, so that four chirps in a row are like no other four
const LEAST = 3;
const MOST = 5;
let context = null;
let next = null;
let source = null;

export function samples(rate) {
  const count = Math.round(LENGTH * rate);
  return Float32Array.from({ length: count }, (_, n) => {
    const through = n / (count - 1);
    const edge = Math.min(through, 1 - through) / (FADED / 2);
    const fade = edge >= 1 ? 1 : 0.5 - 0.5 * Math.cos(Math.PI * edge);
    const at = n / rate;
    return fade * Math.sin(2 * Math.PI * (LOWEST + ((HIGHEST - LOWEST) * at) / LENGTH / 2) * at);
  });
}

// the page's instant at which the speaker gives what the sound's clock calls `at`
function sounding(at) {
  const told = context.getOutputTimestamp?.();
  if (told?.performanceTime > 0) return told.performanceTime + (at - told.contextTime) * 1000;
  const late = context.outputLatency || context.baseLatency || 0;
  return performance.now() + (at - context.currentTime + late) * 1000;
}

function once() {
  const sent = samples(context.sampleRate);
  const buffer = context.createBuffer(1, sent.length, context.sampleRate);
  buffer.copyToChannel(sent, 0);
  source = context.createBufferSource();
  source.buffer = buffer;
  source.connect(context.destination);
  const at = context.currentTime + 0.1;
  source.onended = () => {
    if (context?.state === "running") queue.press("chirp", "", sounding(at));
  };
  source.start(at);
  next = setTimeout(once, (LEAST + (MOST - LEAST) * Math.random()) * 1000);
}

// after a touch or a key only: browsers let no page sound by itself
export async function start() {
  if (context || !globalThis.AudioContext) return;
  context = new AudioContext();
  const mine = context;
  await mine.resume();
  if (context === mine && mine.state === "running") once();
}

export function stop() {
  clearTimeout(next);
  if (source) source.onended = null;
  source = null;
  context?.close();
  context = null;
}
