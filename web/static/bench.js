// What every page shares. No page needs it to be usable.
for (const back of document.querySelectorAll("[data-back]")) {
  if (history.length > 1) back.addEventListener("click", (e) => { e.preventDefault(); history.back(); });
}

// A form is sent once, however often a glove taps.
document.addEventListener("submit", (e) => {
  if (e.defaultPrevented) return;
  if (e.target.dataset.sent) { e.preventDefault(); return; }
  e.target.dataset.sent = "yes";
  setTimeout(() => delete e.target.dataset.sent, 4000);
});

// The tab one is on is in view.
document.querySelector(".tabs [aria-current]")?.scrollIntoView({ inline: "center", block: "nearest" });

export const job = Number(document.body.dataset.job || 0);

export function toast(words) {
  const p = document.createElement("p");
  p.textContent = words;
  document.getElementById("toast").replaceChildren(p);
  setTimeout(() => p.remove(), 6000);
}

// api asks the bench and gives its answer, or an error with the bench's words.
export async function api(path, options = {}) {
  const answer = await fetch(path, { ...options, headers: { Accept: "application/json", ...options.headers } });
  const text = await answer.text();
  let body = {};
  try { body = text ? JSON.parse(text) : {}; } catch { body = { error: text }; }
  if (!answer.ok) {
    const error = new Error(body.error || `the bench answered ${answer.status}`);
    error.status = answer.status;
    error.body = body;
    throw error;
  }
  return body;
}

export const post = (path, body) =>
  api(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body ?? {}) });

// ticked gives the hard stops that were confirmed, or nothing and a hint while
// one is open.
export function ticked() {
  const stops = [...document.querySelectorAll(".stops input")];
  const open = stops.find((s) => !s.checked);
  if (!open) return stops.map((s) => s.value);
  toast("Look first, then tick each stop.");
  open.focus();
  return null;
}
