// The marks of the log as they come. All text goes in by textContent, so nothing in a mark can run.
const list = document.getElementById("marks");
const said = document.getElementById("said");
let edition = "";
let count = 0;

async function look() {
  const answer = await fetch(`/marks?since=${count}&edition=${encodeURIComponent(edition)}`);
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.why);
  if (told.since === 0) list.replaceChildren();
  for (const mark of told.marks) {
    const line = document.createElement("li");
    line.textContent = [mark.time, mark.kind, mark.step, mark.text].filter(Boolean).join(" · ");
    list.append(line);
  }
  ({ edition, count } = told);
}

for (;;) {
  try {
    await look();
    said.textContent = "";
  } catch (error) {
    said.textContent = error.message;
  }
  await new Promise((done) => setTimeout(done, 2000));
}
