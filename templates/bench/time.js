// The server's clock, as well as this device can tell it: the quickest of several round trips counts, and the true offset
// lies within half of that round trip.
import { ask } from "/static/net.js";

const TRIPS = 5;
const AGES_MS = 2; // a minute: clocks drift, so an old round trip counts less and less
const JUMP_MS = 250;
let offset = null;
let best = Infinity;
let apart = 0;

// performance.now() never jumps when somebody sets the device's clock, but on many devices it stands still while they sleep
const own = (stamp) => performance.timeOrigin + stamp;
const gap = () => Date.now() - own(performance.now());
const jumped = () => Math.abs(gap() - apart) > JUMP_MS;

export const known = () => offset !== null && !jumped();
export const within = () => best / 2;
export const at = (stamp) => own(stamp) + offset;

// Of a press before the first contact, or after a sleep: the device's own clock, set right by `late` on the next contact.
export const rough = (stamp) => own(stamp) + gap();
export const late = () => offset - gap();

export async function measure() {
  if (offset !== null && jumped()) best = Infinity;
  best += AGES_MS;
  for (let n = 0; n < TRIPS; n += 1) {
    const sent = own(performance.now());
    const told = await ask("/time");
    const back = own(performance.now());
    const trip = back - sent;
    const found = told.now - (sent + back) / 2;
    // two that cannot both be right: one of the clocks was set, so the new one counts
    const torn = offset !== null && Math.abs(found - offset) > (trip + best) / 2 + JUMP_MS;
    if (trip < best || torn) {
      best = trip;
      offset = found;
    }
    apart = gap();
  }
}
