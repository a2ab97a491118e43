// The server's clock, as well as this device can tell it: the quickest of several round trips counts, and the true offset
// lies within half of that round trip.
import { ask } from "/static/net.js";

const TRIPS = 5;
const AGES_MS = 2; // a minute: clocks drift, so an old round trip counts less and less
const JUMP_MS = 250;
let offset = null;
let best = Infinity;
let apart = 0;
let era = 0; // how often the offset turned out to be another: this device slept, or the server's clock was set

// performance.now() never jumps when somebody sets the device's clock, but on many devices it stands still while they sleep
const own = (stamp) => performance.timeOrigin + stamp;
const gap = () => Date.now() - own(performance.now());
const jumped = () => Math.abs(gap() - apart) > JUMP_MS;

export const known = () => offset !== null && !jumped();
export const within = () => best / 2;
export const at = (stamp) => own(stamp) + offset;

// Of a press before the first contact, or after a jump: the device's own clock, until the next contact. If that tells that
// performance.now() never stood still, somebody set the clock, perhaps twice, and only performance.now() is right.
export const rough = (stamp) => ({ at: own(stamp) + gap(), own: own(stamp), era: offset === null ? -1 : era });
export const settled = (mark) => (mark.era === era ? mark.own + offset : mark.at + offset - gap());

// Whether the server's clock, told in an answer to what was asked at `sent` of performance.now(), is another by now.
export function contradicted(now, sent) {
  const back = performance.now();
  return Math.abs(now - at((sent + back) / 2)) > (back - sent) / 2 + within() + JUMP_MS;
}

export async function measure() {
  best += AGES_MS;
  const [before, wide, since] = [offset, best, era];
  let least = offset !== null && jumped() ? Infinity : best;
  for (let n = 0; n < TRIPS; n += 1) {
    const sent = own(performance.now());
    const told = await ask("/time");
    const back = own(performance.now());
    const trip = back - sent;
    const found = told.now - (sent + back) / 2;
    // two that cannot both be right: one of the clocks was set, so the new one counts
    const torn = (other, breadth) => other !== null && Math.abs(found - other) > (trip + breadth) / 2 + JUMP_MS;
    if (trip < least || torn(offset, least)) {
      least = trip;
      offset = found;
    }
    if (era === since && torn(before, wide)) era += 1;
    best = least;
    apart = gap();
  }
}
