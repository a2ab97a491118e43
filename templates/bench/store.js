// What this device keeps. A browser may refuse (full, private mode, switched off), and what stands there may be anything:
// then the page goes on with what it holds in memory, and says so.
export const job = document.documentElement.dataset.job;
export const denied = new Set(); // names under which nothing could be kept

export function read(name, otherwise, where = "localStorage") {
  try {
    const found = JSON.parse(globalThis[where].getItem(name));
    const fits = typeof found === "object" && found !== null && Array.isArray(found) === Array.isArray(otherwise);
    return fits ? found : otherwise;
  } catch {
    return otherwise;
  }
}

export function write(name, value, where = "localStorage") {
  try {
    if (value === null) globalThis[where].removeItem(name);
    else globalThis[where].setItem(name, JSON.stringify(value));
    denied.delete(name);
  } catch {
    denied.add(name);
  }
  return !denied.has(name);
}

export function names(start) {
  try {
    return Object.keys(localStorage).filter((name) => name.startsWith(start));
  } catch {
    return [];
  }
}
