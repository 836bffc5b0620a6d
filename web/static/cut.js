// The hands-free cut-out: one tap to begin, then the voice leads.
import { job, post, ticked, toast } from "./bench.js";
import { watch } from "./live.js";
import { plots } from "./plot.js";
import { allow, say } from "./speak.js";

const el = (id) => document.getElementById(id);
const make = (name, attributes, text) => {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (text !== undefined) e.textContent = text;
  return e;
};
const spanMs = 30e3;
const lostWords = "I have lost the bench. Put every plug back on.";
let line = [];

async function start() {
  const stops = ticked();
  if (!stops) return;
  allow();
  const means = document.querySelector("[name=means]:checked")?.value ?? "";
  try { await post(`/jobs/${job}/cut/start`, { means, stops }); } catch (e) { toast(e.message); return; }
  running(true);
}

function running(on) {
  el("prepare").hidden = on;
  el("running").hidden = !on;
  if (on) { el("result").hidden = true; el("stop").focus(); }
}

function show(s) {
  if (s.ended) { ended(s); return; }
  running(true);
  if (el("prompt").textContent !== s.words) el("prompt").textContent = s.words;
  const cutting = s.phase === "pull" || s.phase === "hold";
  el("bigno").textContent = (s.cut ?? []).join("+");
  el("bigno").classList.toggle("off", cutting);
  el("left").setAttribute("width", `${cutting && s.whole_s ? Math.round((100 * s.left_s) / s.whole_s) : 0}%`);
  el("lefttext").textContent = cutting && s.whole_s ? `${s.left_s.toFixed(0)} s` : `${s.count} of ${s.of}`;
  el("budget").setAttribute("width", `${Math.round(100 * s.budget)}%`);
  el("budgettext").textContent = `${Math.round(100 * s.budget)} %`;
  el("cutrpm").textContent = s.rpm ? Math.round(s.rpm) : "–";
  el("seen").textContent = cutting ? (s.seen ? "▼ drop seen" : "no drop yet") : "";
  trace(s.rpm, cutting);
  drops(s.drops ?? []);
}

function trace(rpm, cutting) {
  const now = performance.now();
  line.push({ t: now, rpm, cutting });
  line = line.filter((p) => now - p.t < spanMs);
  const values = line.map((p) => p.rpm).filter(Boolean);
  const low = Math.min(...values) - 20, high = Math.max(...values) + 20;
  const x = (t) => 600 - (600 * (now - t)) / spanMs;
  const y = (v) => 135 - (130 * (v - low)) / (high - low || 1);
  el("speedline").setAttribute("d", line.map((p, i) => `${i ? "L" : "M"}${x(p.t).toFixed(1)} ${y(p.rpm).toFixed(1)}`).join(""));
  const shades = [];
  for (let i = 0; i < line.length; i++) {
    if (!line[i].cutting) continue;
    const from = i;
    while (i + 1 < line.length && line[i + 1].cutting) i++;
    shades.push(make("rect", { x: x(line[from].t).toFixed(1), width: Math.max(1, x(line[i].t) - x(line[from].t)).toFixed(1), y: 0, height: 140 }));
  }
  el("shade").replaceChildren(...shades);
}

function drops(list) {
  if (el("drops").childElementCount === list.length) return;
  const top = Math.max(...list.map((d) => d.rpm), 1);
  el("drops").replaceChildren(...list.map((d) => {
    const li = document.createElement("li");
    const bar = make("svg", { class: "share", "aria-hidden": "true" });
    bar.append(make("rect", { width: `${Math.max(0, Math.round((100 * d.rpm) / top))}%`, height: "100%" }));
    li.append(Object.assign(document.createElement("b"), { textContent: d.cylinders.join("+") }), bar, Object.assign(document.createElement("span"), { textContent: `${Math.max(0, d.rpm)} rpm lost` }));
    return li;
  }));
}

function ended(s) {
  if (el("running").hidden && el("prepare").hidden === false) return; // an old one
  el("running").hidden = true;
  el("result").hidden = false;
  el("resulttext").textContent = s.words;
  if (s.ended === "broken") { el("prepare").hidden = false; return; }
  details();
}

// details fetches what the bench has put on the card.
async function details() {
  const page = new DOMParser().parseFromString(await (await fetch(location.pathname)).text(), "text/html");
  const found = page.querySelector(".finding");
  if (!found) return;
  el("result").after(found);
  plots(found);
}

el("start")?.addEventListener("click", start);
el("stop").addEventListener("click", () => post(`/jobs/${job}/cut/stop`).catch((e) => toast(e.message)));
// linked warns by voice when the bench can no longer say what to do: a plug
// must not stay off because of that.
let lost = false;
function linked(ok) {
  if (ok || lost || el("running").hidden) { lost = lost && !ok; return; }
  lost = true;
  el("prompt").textContent = lostWords;
  say(lostWords, true);
}

watch(job, { cut: show, say: (m) => say(m.words, m.urgent) }, linked);
