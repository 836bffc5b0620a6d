// Spoken prompts. Browsers speak only after a tap, so a tap switches it on.
let on = false;
export const speaks = () => on;

export function allow() {
  on = "speechSynthesis" in globalThis;
  if (on) say("Ready");
  return on;
}

export function say(words, urgent = false) {
  if (!on) return;
  if (urgent) speechSynthesis.cancel();
  const u = new SpeechSynthesisUtterance(words);
  u.rate = 1.05;
  speechSynthesis.speak(u);
}
