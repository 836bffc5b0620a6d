// Swapping on the drawing: tap a part and then its new place, or drag it there.
const seats = document.getElementById("seats");
const form = document.getElementById("swap");
const hint = document.getElementById("hint");
let held = null;

function hold(chip) {
  for (const c of seats.querySelectorAll(".chip")) c.setAttribute("aria-pressed", c === chip);
  held = chip;
  hint.textContent = chip ? `${chip.dataset.part}: now tap the cylinder it goes to.` : "Tap a part, then the cylinder it goes to. Or drag it there.";
}

function drop(seat) {
  const from = held?.closest("[data-seat]").dataset.seat;
  const to = seat?.dataset.seat;
  hold(null);
  if (!from || !to || from === to) return;
  form.elements.a.value = from;
  form.elements.b.value = to;
  hint.textContent = `${from} and ${to} are chosen: do it, tick the stops, then confirm.`;
  form.scrollIntoView({ block: "center" }); // at once: a tap must not miss a page that moves
  form.querySelector("button").focus({ preventScroll: true });
}

if (seats && form) {
  let dragging = null;
  for (const chip of seats.querySelectorAll(".chip")) {
    chip.setAttribute("aria-pressed", false);
    chip.addEventListener("click", () => (held && held !== chip ? drop(chip.closest("[data-seat]")) : hold(held ? null : chip)));
    chip.addEventListener("pointerdown", (e) => { dragging = { chip, x: e.clientX, y: e.clientY, far: false }; });
  }
  const seatUnder = (e) => document.elementFromPoint(e.clientX, e.clientY)?.closest("[data-seat]");
  addEventListener("pointermove", (e) => {
    if (!dragging) return;
    dragging.far ||= Math.hypot(e.clientX - dragging.x, e.clientY - dragging.y) > 12;
    if (!dragging.far) return;
    if (held !== dragging.chip) hold(dragging.chip);
    for (const s of seats.querySelectorAll("[data-seat]")) s.classList.toggle("target", s === seatUnder(e));
  });
  addEventListener("pointerup", (e) => {
    const was = dragging;
    dragging = null;
    for (const s of seats.querySelectorAll(".target")) s.classList.remove("target");
    if (!was?.far) return;
    was.chip.addEventListener("click", (c) => c.stopImmediatePropagation(), { capture: true, once: true });
    setTimeout(() => drop(seatUnder(e)), 0);
  });
  for (const seat of seats.querySelectorAll("[data-seat]")) {
    seat.addEventListener("click", (e) => { if (held && !e.target.closest(".chip")) drop(seat); });
  }
}
