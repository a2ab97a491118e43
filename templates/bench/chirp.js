// The chirp that every microphone hears: 1.5 to 6 kHz in half a second, swept evenly, its ends rounded by a Tukey window of
// 0.1. Two recordings of one chirp are placed against each other to a fraction of a millisecond.
const [LOW, HIGH, LASTS, ROUNDED] = [1500, 6000, 0.5, 0.1];
const PAUSES_MS = [900, 1700]; // at random between: then four chirps in a row are like no other four
const LOUD = 0.7;
let sound = null;
let timer = 0;

export function samples(rate) {
  const count = Math.round(LASTS * rate);
  return Float32Array.from({ length: count }, (_, n) => {
    const t = n / rate;
    const edge = (2 * Math.min(n, count - 1 - n)) / (ROUNDED * (count - 1));
    const window = edge < 1 ? (1 - Math.cos(Math.PI * edge)) / 2 : 1;
    return LOUD * window * Math.sin(2 * Math.PI * (LOW * t + ((HIGH - LOW) * t * t) / (2 * LASTS)));
  });
}

// when what the sound's clock calls `at` leaves the speaker, on the clock of performance.now()
function heard(at) {
  const out = sound.getOutputTimestamp?.();
  if (out?.performanceTime) return out.performanceTime + (at - out.contextTime) * 1000;
  return performance.now() + (at - sound.currentTime + (sound.outputLatency || sound.baseLatency || 0)) * 1000;
}

function play(begun) {
  const data = samples(sound.sampleRate);
  const clip = sound.createBuffer(1, data.length, sound.sampleRate);
  clip.copyToChannel(data, 0);
  const source = sound.createBufferSource();
  source.buffer = clip;
  source.connect(sound.destination);
  const at = sound.currentTime + 0.1;
  source.start(at);
  // asked afterwards: by then the sound's clock runs, and its delay is known
  source.onended = () => sound?.state === "running" && begun(heard(at));
}

export async function begin(begun) {
  sound ??= new AudioContext();
  end();
  await sound.resume();
  next(begun);
}

function next(begun) {
  play(begun);
  timer = setTimeout(() => next(begun), PAUSES_MS[0] + Math.random() * (PAUSES_MS[1] - PAUSES_MS[0]));
}

export function end() {
  clearTimeout(timer);
  sound?.suspend();
}
