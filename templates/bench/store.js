// What this device keeps. A browser may refuse (full, private mode, switched off), and what stands there may be anything:
// then the page goes on with what it holds in memory, and says so.
export const job = document.documentElement.dataset.job;
export let denied = false;

export function read(name, otherwise, where = "localStorage") {
  try {
    const found = JSON.parse(globalThis[where].getItem(name));
    return found !== null && Array.isArray(found) === Array.isArray(otherwise) ? found : otherwise;
  } catch {
    return otherwise;
  }
}

export function write(name, value, where = "localStorage") {
  try {
    if (value === null) globalThis[where].removeItem(name);
    else globalThis[where].setItem(name, JSON.stringify(value));
    denied = false;
  } catch {
    denied = true;
  }
  return !denied;
}

export function names(start) {
  try {
    return Object.keys(localStorage).filter((name) => name.startsWith(start));
  } catch {
    return [];
  }
}
