// The tablet beside the engine.
import { job, post, ticked, toast } from "./bench.js";
import { chanceWords, watch, showLevel, showNumbers } from "./live.js";
import { SoundRecorder, stateWords } from "./recorder.js";

const root = document.getElementById("listen");
const el = (id) => document.getElementById(id);
const svg = (name, attributes) => {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  return e;
};
const practice = root.dataset.practice === "true";
const cylinders = Number(root.dataset.cylinders || 0);

// What sound and motion say together leads the readouts, with each beside it;
// else sound, else motion.
const at = { heard: -Infinity, joined: -Infinity };
const lately = (what) => performance.now() - at[what] < 3000;
const inShort = (m) => (m.chance === undefined ? m.sentence : `misfire ${chanceWords(m.chance)}${m.missing ? `, ${m.missing.value.toFixed(1)} cylinders` : ""}`);

function showHeard(m) {
  at.heard = performance.now();
  el("byear").textContent = `By ear: ${inShort(m)}`;
  if (lately("joined")) showPicture(m);
  else showMeter(m);
}

function showFelt(m) {
  el("touch").textContent = `By touch: ${inShort(m)}`;
  el("each").hidden = !lately("heard");
  if (!lately("heard") && !lately("joined")) showMeter(m);
}

function showJoined(m) {
  at.joined = performance.now();
  showWords(m);
}

function showMeter(m) {
  showWords(m);
  showPicture(m);
}

function showWords(m) {
  showNumbers(m);
  el("missing-range").textContent = m.missing ? `${m.missing.low.toFixed(1)} to ${m.missing.high.toFixed(1)} cyl.` : "cylinders";
  if (el("sentence").textContent !== m.sentence) el("sentence").textContent = m.sentence;
}

function showPicture(m) {
  if (!m.cycle) return;
  el("live").classList.remove("silent");
  const marks = m.marks?.length ? m.marks : Array.from({ length: cylinders }, (_, i) => (720 * i) / cylinders);
  drawCycle(m.cycle);
  el("cyclegrid").replaceChildren(...marks.map((x) => svg("line", { x1: x, x2: x, y1: 0, y2: 200 })));
  el("strengthbox").hidden = !m.strength;
  if (m.strength) drawStrengths(m.strength, marks);
}

function drawCycle(y) {
  const top = Math.max(...y.map(Math.abs), 1e-9);
  const d = y.map((v, i) => `${i ? "L" : "M"}${((720 * i) / (y.length - 1)).toFixed(1)} ${(100 - (90 * v) / top).toFixed(1)}`).join("");
  el("trace").setAttribute("d", d);
}

// drawStrengths puts each firing's bar under its place in the cycle above.
function drawStrengths(s, marks) {
  el("strengths").replaceChildren(...s.map((v, i) => {
    const h = Math.max(1, Math.min(60, 40 * v));
    const g = svg("svg", { viewBox: "0 0 40 80", preserveAspectRatio: "xMidYMax meet" });
    g.append(svg("rect", v < 0.6 ? { class: "low", x: 6, y: 62 - h, width: 28, height: h } : { x: 6, y: 62 - h, width: 28, height: h }));
    const t = svg("text", { x: 20, y: 78 });
    t.textContent = `${i + 1}.`;
    g.append(t);
    g.style.left = `${Math.min(95, Math.max(5, (100 * ((marks[i] + 360 / s.length) % 720)) / 720))}%`;
    return g;
  }));
  el("strengths").setAttribute("aria-label", `Strength of each firing: ${s.map((v, i) => `${i + 1}. ${v.toFixed(2)}`).join(", ")}`);
}

function showCar(d) {
  const hot = d.catalyst_c?.length ? `, catalyst ${d.catalyst_c.map((t) => Math.round(t)).join(" / ")} °C` : "";
  const off = d.cut?.length ? `, injector off at ${d.cut.join(", ")}` : "";
  el("dash").textContent = d.running ? `runs at ${Math.round(d.rpm)} rpm, lamp ${d.lamp}${hot}${off}` : "off";
  if (!practice) return;
  el("finish").hidden = !d.taking;
  el("record").hidden = d.taking;
  if (d.taking) el("sendstate").textContent = `Recording, ${d.seconds.toFixed(0)} s.`;
}

const drive = async (what, more = {}) => { try { return await post(`/jobs/${job}/practice`, { do: what, ...more }); } catch (e) { toast(e.message); } };
const how = () => { const f = new FormData(el("how")); return { place: f.get("place") ?? "", regime: f.get("regime") ?? "" }; };

let recorder;
async function record() {
  const stops = ticked();
  if (!stops) return;
  if (practice) { await drive("record", how()); return; }
  recorder = new SoundRecorder();
  try {
    await recorder.start({ job, stops, ...how() }, (s) => { el("sendstate").textContent = stateWords(s); });
    root.recorder = recorder;
    el("record").hidden = true;
    el("finish").hidden = false;
  } catch (e) { el("sendstate").textContent = e.message; }
}

async function finish() {
  el("finish").disabled = true;
  el("sendstate").textContent = "Judging …";
  try {
    const answer = practice ? await drive("finish") : await recorder.finish();
    if (answer) location.assign(`/jobs/${job}/listen?entry=${answer.entry}#entry-${answer.entry}`);
  } catch (e) { el("sendstate").textContent = e.message; }
  el("finish").disabled = false;
}

el("record")?.addEventListener("click", record);
el("finish")?.addEventListener("click", finish);
for (const b of document.querySelectorAll("[data-drive]")) b.addEventListener("click", () => drive(b.dataset.drive));
for (const b of document.querySelectorAll("[data-keep], [data-drop]")) {
  b.addEventListener("click", async () => {
    try {
      await post(`/takes/${b.dataset.keep ?? b.dataset.drop}/${b.dataset.keep ? "finish" : "drop"}`);
      location.reload();
    } catch (e) { toast(e.message); }
  });
}
if (practice) drive("look");
let kept = false;
watch(job, {
  meter: showHeard,
  felt: showFelt,
  joined: showJoined,
  level: showLevel,
  motion: (m) => { el("shaking").hidden = false; el("shaking").textContent = `shaking ${m.rms.toFixed(2)} m/s², ${m.hz.toFixed(0)} samples a second`; },
  car: showCar,
  take: (m) => {
    if (m.state === "began") el("sentence").textContent = `${m.device || "A device"} is recording.`;
    if (m.state === "kept" && !kept) { el("sentence").textContent = m.sentence; if (!recorder && !practice) toast(`On the card: ${m.sentence}`); }
  },
}, (ok) => { el("link").hidden = ok; });
