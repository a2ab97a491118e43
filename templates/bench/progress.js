// What the marks say of the steps, as the log is read later (bench/undo.py, bench/spans.py).

// The marks that count. An undo may withdraw an undo; one that names no mark, the last above it that still counts.
export function standing(marks) {
  const named = new Map();
  const undos = new Map(); // of each mark
  const counts = (mark) => !undos.get(mark)?.some(counts);
  const above = [];
  for (const mark of marks) {
    if (mark.kind === "undo") {
      const meant = mark.of ? named.get(mark.of) : above.findLast(counts);
      if (meant) undos.set(meant, [...(undos.get(meant) ?? []), mark]);
    } else above.push(mark);
    if (mark.id && !named.has(mark.id)) named.set(mark.id, mark);
  }
  return above.filter(counts);
}

const OPENS = ["start", "retake", "keep", "wait", "b-roll"];

// Another device may deliver late. What has no time yet that is sure, or none at all, comes after what stands above it.
function inTime(marks) {
  let latest = -Infinity;
  const timed = marks.map((mark) => {
    const at = mark.raw ? latest : (mark.at ?? latest);
    latest = Math.max(latest, at);
    return { mark, at };
  });
  return timed.sort((one, other) => one.at - other.at || 0).map(({ mark }) => mark);
}

// Which of the plan's steps were begun, which are done, which is open, and the marks that do not fit, each with the step that
// is open then: an end of a step that is not open, or a beginning while another step is.
export function progress(marks, steps) {
  const known = new Set(steps.map((step) => step.id));
  const begun = new Set();
  const done = new Set();
  const amiss = new Map();
  let open = "";
  for (const mark of inTime(standing(marks))) {
    const ends = mark.kind === "done";
    if ((mark.step && !known.has(mark.step)) || (!ends && !OPENS.includes(mark.kind))) continue;
    const step = mark.step || open;
    if (!step || (step !== open && (open || ends))) amiss.set(mark, open);
    if (!step) continue;
    if (ends) {
      if (step === open) open = "";
      done.add(step);
    } else {
      open = step;
      begun.add(step);
      done.delete(step);
    }
  }
  return { begun, done, open, amiss };
}
