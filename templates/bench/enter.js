// Lets this device in with the one-time key that follows # in the address. The key never stands in a request's path.
const said = document.getElementById("said");

async function enter() {
  const key = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
  if (!key) {
    said.textContent = "Open the address in the terminal, or scan its code.";
    return;
  }
  try {
    const answer = await fetch("/enter", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ key }),
    });
    if (answer.ok && (await fetch("/time")).status === 401) {
      said.textContent = "This browser keeps no cookies of this address. Allow them, then open the next address in the terminal.";
    } else if (answer.ok) location.replace("/");
    else said.textContent = (await answer.json()).why;
  } catch {
    said.textContent = "The bench log cannot be reached. Is it open, and is this device on its network?";
  }
}

addEventListener("hashchange", enter); // the next key, opened where this page stands already
enter();
