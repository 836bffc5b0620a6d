// The phone on the engine: record, say how it goes, speak prompts.
import { ticked, toast } from "./bench.js";
import { SoundRecorder, MotionRecorder, stateWords } from "./recorder.js";
import { Sender } from "./sender.js";
import { leftTakes, dropTake } from "./keep.js";
import { watch, showLevel, showNumbers } from "./live.js";
import { allow, say } from "./speak.js";

const root = document.getElementById("sensor");
const el = (id) => document.getElementById(id);
const running = [];

function head() {
  const f = new FormData(el("how"));
  return { job: Number(root.dataset.for), place: f.get("place") ?? "", regime: f.get("regime") ?? "" };
}

async function begin(recorder, button) {
  const stops = ticked();
  if (!stops) return;
  try {
    await recorder.start({ ...head(), stops }, (s) => { el("sendstate").textContent = stateWords(s); });
  } catch (e) { el("sendstate").textContent = e.message; return; }
  running.push(recorder);
  button.hidden = true;
  el("finish").hidden = el("now").hidden = false;
  el("before").hidden = el("how").hidden = true;
  if (recorder.flags) el("flags").textContent = `Echo cancelling ${recorder.flags.echo}, noise suppression ${recorder.flags.noise}, automatic gain ${recorder.flags.gain}, ${recorder.rate} Hz.`;
}

async function finish() {
  el("finish").disabled = true;
  el("sendstate").textContent = "Sending the rest and judging …";
  for (const r of running.splice(0)) {
    try {
      const answer = await r.finish();
      el("sendstate").textContent = answer.sentence;
    } catch (e) { el("sendstate").textContent = e.message; }
  }
  Object.assign(el("finish"), { hidden: true, disabled: false });
  el("record").hidden = el("motion").hidden = el("before").hidden = el("how").hidden = false;
  el("now").hidden = el("levelrow").hidden = true;
}

// What an earlier page did not get through to the bench is sent now.
async function sendLeft() {
  for (const take of await leftTakes()) {
    if (running.some((r) => r.sender.head.key === take.key)) continue;
    const sender = await Sender.left(take, () => {});
    if (!sender.made) { await dropTake(take.key); continue; }
    toast("Sending a recording that was interrupted.");
    try { toast((await sender.finish()).sentence); } catch (e) { if (e.status === 404) await dropTake(take.key); toast(e.message); }
  }
}

if (root) {
  el("record").addEventListener("click", () => begin(new SoundRecorder(), el("record")));
  el("motion").addEventListener("click", () => begin(new MotionRecorder(), el("motion")));
  el("finish").addEventListener("click", finish);
  el("speaker").addEventListener("click", (e) => { e.target.textContent = allow() ? "Speaking here" : "This device cannot speak"; });
  addEventListener("beforeunload", (e) => { if (running.length) e.preventDefault(); });
  watch(root.dataset.for, {
    level: showLevel,
    meter: showNumbers,
    felt: (m) => { if (!running.some((r) => r.flags)) showNumbers(m); },
    say: (m) => { el("said").textContent = m.words; say(m.words, m.urgent); },
  });
  sendLeft();
}
