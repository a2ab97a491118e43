// The chirp that every microphone hears: 1.5 to 6 kHz in half a second, swept evenly, its ends rounded by a Tukey window of
// 0.1. From start to start it takes a random time, so that four in a row are like no other four.
const [LOW, HIGH, LASTS, ROUNDED] = [1500, 6000, 0.5, 0.1];
const [SOONEST_MS, LATEST_MS] = [900, 1700];
const LOUD = 0.8;
const AHEAD = 0.1;
let sound = null;
let timer = 0;
let source = null;

export function samples(rate) {
  const count = Math.round(LASTS * rate);
  return Float32Array.from({ length: count }, (_, n) => {
    const t = n / rate;
    const edge = (2 * Math.min(n, count - 1 - n)) / (ROUNDED * (count - 1));
    const gain = edge < 1 ? (1 - Math.cos(Math.PI * edge)) / 2 : 1;
    return gain * Math.sin(2 * Math.PI * (LOW * t + ((HIGH - LOW) * t * t) / (2 * LASTS)));
  });
}

// when what the sound's clock calls `at` leaves the speaker, on the clock of performance.now()
function heard(at) {
  const out = sound.getOutputTimestamp?.();
  if (out?.performanceTime) return out.performanceTime + (at - out.contextTime) * 1000;
  return performance.now() + (at - sound.currentTime + (sound.outputLatency || sound.baseLatency || 0)) * 1000;
}

function play(begun) {
  timer = setTimeout(play, SOONEST_MS + Math.random() * (LATEST_MS - SOONEST_MS), begun);
  const data = samples(sound.sampleRate);
  const clip = sound.createBuffer(1, data.length, sound.sampleRate);
  clip.copyToChannel(data, 0);
  const loud = sound.createGain();
  loud.gain.value = LOUD;
  source = sound.createBufferSource();
  source.buffer = clip;
  source.connect(loud).connect(sound.destination);
  const at = sound.currentTime + AHEAD;
  source.start(at);
  // asked afterwards: by then the sound's clock runs, and its delay is known
  source.onended = () => begun(heard(at));
}

export async function begin(begun) {
  clearTimeout(timer);
  sound ??= new AudioContext();
  await sound.resume();
  play(begun);
}

export function end() {
  clearTimeout(timer);
  if (!source) return;
  source.onended = null; // one that was cut off is no chirp
  source.stop();
  sound.suspend();
  source = null;
}
