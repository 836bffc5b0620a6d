// The next step takes the bench most of a second: it comes after the page.
import { job } from "./bench.js";

const place = document.getElementById("next");
if (place) {
  const answer = await fetch(`/jobs/${job}/next`);
  if (answer.ok) {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = page.querySelector("main .step, main .ask, main .problem");
    const all = Object.assign(document.createElement("a"), { href: `/jobs/${job}/next`, textContent: "All that could be done, and why" });
    for (const c of found?.querySelectorAll(".caution, .soft") ?? []) c.remove(); // they stand on the page of the step
    if (found) place.replaceChildren(found, all);
  }
}

// What another device enters shows here at once.
const shown = Number(document.body.dataset.last);
new EventSource(`/jobs/${job}/live`).addEventListener("card", (e) => {
  if (JSON.parse(e.data).last > shown && !document.activeElement?.matches("input, textarea")) location.replace(location.pathname);
});
