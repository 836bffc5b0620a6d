// Draws a typed engine while it is typed.
const typed = document.querySelector("[name=engine_own]");
const place = document.getElementById("own");
let timer;
typed?.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(show, 300);
});

async function show() {
  if (!typed.value) { place.replaceChildren(); return; }
  const answer = await fetch("/engine?layout=" + encodeURIComponent(typed.value));
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const found = page.querySelector(".engine") || page.querySelector(".problem");
  place.replaceChildren(found);
}
