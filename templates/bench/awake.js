// Keeps the screen on. The Screen Wake Lock API is there in a secure context only, which plain http on a home network is
// not; there a film that plays keeps the screen on, by the rules of each engine (read in their sources):
// - Blink: one without sound must cover a fifth of the window, so it lies behind the whole page.
// - Gecko: it must have a sound track, so it has a silent one.
// - WebKit: it must not be muted and must not loop by the attribute, so it is set back by hand and is unmuted there.
// The film is grey and silent and made for this page: four seconds, awake.webm and awake.mp4.
const told = document.getElementById("awake");
const film = document.getElementById("film");
const webkit = "GestureEvent" in globalThis;
let lock = null;

function tell() {
  const byFilm = !film.paused && film.readyState > 1;
  if (lock && !lock.released) told.textContent = "The screen is kept awake.";
  else if (byFilm) told.textContent = "The screen is kept awake by a blank film. If it goes dark, change the device's own setting.";
  else told.textContent = "The screen may go dark: touch the page once, or change the device's own setting.";
}

async function hold() {
  if (document.hidden || (lock && !lock.released)) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", tell);
    film.pause();
  } catch {
    film.muted = !webkit; // before a first touch only a muted film may play
    await film.play().catch(() => {});
  }
  tell();
}

film.addEventListener("ended", () => {
  film.currentTime = 0;
  film.play().catch(() => {});
});
for (const event of ["pause", "playing"]) film.addEventListener(event, tell);
document.addEventListener("visibilitychange", hold);
for (const event of ["pointerup", "keyup"]) addEventListener(event, () => film.paused && hold());

export const begin = hold;
