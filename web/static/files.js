// Files from elsewhere: what the browser can decode is sent like a recording.
import { job, post, toast } from "./bench.js";
import { motionBytes } from "./recorder.js";
import { Sender } from "./sender.js";
import { dropTake } from "./keep.js";
import { readTable, looksLikeTime, sketch } from "./table.js";

const el = (id) => document.getElementById(id);
const mostBytes = 300e6;
let columns, name, sending;

const how = () => { const f = new FormData(el("how")); return { place: f.get("place") ?? "", regime: f.get("regime") ?? "" }; };
const state = (words) => { el("filestate").textContent = words; };

function progress(share) {
  el("progress").hidden = share === null;
  el("cancel").hidden = share === null;
  el("sent").setAttribute("width", `${Math.round(100 * (share ?? 0))}%`);
  el("progress").setAttribute("aria-valuenow", Math.round(100 * (share ?? 0)));
}

async function take(file) {
  if (!file) return;
  if (file.size > mostBytes) { state(`${file.name} has ${(file.size / 1e6).toFixed(0)} MB, at most ${mostBytes / 1e6} can be read here: cut it, or use the command line.`); return; }
  name = file.name;
  el("table").hidden = true;
  try {
    if (/\.(csv|txt|tsv)$/i.test(file.name) || file.type.startsWith("text/")) await showTable(await file.text());
    else await sendSound(file);
  } catch (e) { state(e.message); progress(null); }
}

// rateOf reads the true rate of a WAV file, so that nothing is resampled.
function rateOf(bytes) {
  const v = new DataView(bytes);
  if (bytes.byteLength < 44 || v.getUint32(0) !== 0x52494646 || v.getUint32(8) !== 0x57415645) return 48000;
  for (let at = 12; at + 20 < bytes.byteLength; ) {
    const size = v.getUint32(at + 4, true);
    if (v.getUint32(at) === 0x666d7420) return Math.min(96000, Math.max(8000, v.getUint32(at + 12, true)));
    at += 8 + size + (size & 1);
  }
  return 48000;
}

async function sendSound(file) {
  state(`Reading ${file.name} …`);
  const bytes = await file.arrayBuffer();
  const rate = rateOf(bytes);
  let sound;
  try { sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes); } catch { throw new Error(`${file.name} holds no sound this browser can read. WAV always works.`); }
  const mono = new Float32Array(sound.length);
  for (let c = 0; c < sound.numberOfChannels; c++) {
    const x = sound.getChannelData(c);
    for (let i = 0; i < x.length; i++) mono[i] += x[i] / sound.numberOfChannels;
  }
  await sendWave(mono, sound.sampleRate);
}

const pieceSeconds = 5;
function sendWave(mono, rate) {
  const size = Math.floor(pieceSeconds * rate);
  return sendPieces({ sensor: "sound", rate_hz: rate }, mono.length, size, (from, to) => {
    const pcm = new Int16Array(to - from);
    for (let i = 0; i < pcm.length; i++) pcm[i] = Math.round(Math.max(-1, Math.min(1, mono[from + i])) * 32767);
    return pcm.buffer;
  });
}

// sendMotion sends rows of time and up to three axes, times as they are.
function sendMotion(rows) {
  return sendPieces({ sensor: "motion", rate_hz: 0 }, rows.length, 2000, (from, to) => motionBytes(rows.slice(from, to)));
}

async function sendPieces(head, length, size, bytes) {
  const pieces = Math.ceil(length / size);
  sending = Sender.fresh({ job, device: name.slice(0, 80), flags: { file: name.slice(0, 80) }, ...head, ...how() }, (s) => {
    progress(Math.min(1, s.next / pieces));
    state(s.trouble ?? s.failed?.message ?? `Sending ${name} …`);
  });
  const mine = sending;
  for (let k = 0; k < pieces && mine === sending; k++) {
    mine.push(k * size, bytes(k * size, Math.min((k + 1) * size, length)));
    while (mine.waiting > 4 && mine === sending && !mine.failed) await new Promise((d) => setTimeout(d, 20));
  }
  if (mine !== sending) return;
  state("Judging …");
  const answer = await mine.finish();
  progress(null);
  location.assign(`/jobs/${job}/listen?entry=${answer.entry}#entry-${answer.entry}`);
}

async function cancel() {
  const s = sending;
  sending = null;
  progress(null);
  state("Cancelled; nothing is on the card.");
  if (s) { s.failed = new Error("cancelled"); await dropTake(s.head.key); if (s.id) await post(`/takes/${s.id}/drop`).catch(() => {}); }
}

function showTable(text) {
  columns = readTable(text);
  el("table").hidden = false;
  el("tablename").textContent = `${name}: ${columns[0].values.length} rows, ${columns.length} columns of numbers`;
  const time = columns.findIndex(looksLikeTime);
  const value = columns.findIndex((c, i) => i !== time);
  el("columns").replaceChildren(...columns.map((c, i) => column(c, i, time, value)));
  state("");
  el("table").scrollIntoView({ block: "start" });
}

function column(c, i, time, value) {
  const box = document.createElement("div");
  box.className = "column";
  const { d, low, high } = sketch(c.values);
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 300 56");
  svg.setAttribute("preserveAspectRatio", "none");
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `${c.name} from ${low} to ${high}`);
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", d);
  path.setAttribute("class", "trace");
  svg.append(path);
  const pick = (kind, words, on) => {
    const l = Object.assign(document.createElement("label"), { className: "tile" });
    l.append(Object.assign(document.createElement("input"), { type: "radio", name: kind, value: i, checked: on }), words);
    return l;
  };
  const title = Object.assign(document.createElement("p"), { textContent: `${c.name}: ${Number(low.toPrecision(5))} to ${Number(high.toPrecision(5))}` });
  box.append(title, svg, pick("timecolumn", "time, s", i === time), pick("valuecolumn", "values", i === value));
  return box;
}

async function useTable() {
  const picked = (kind) => columns[document.querySelector(`[name=${kind}]:checked`)?.value];
  const time = picked("timecolumn"), value = picked("valuecolumn");
  const rate = Number(el("rowrate").value.replace(",", "."));
  if (!value) { toast("Pick the column of values."); return; }
  if ((!time || time === value) && !(rate > 0)) { toast("Pick a column of time, or give the samples a second."); return; }
  const rows = value.values.map((v, i) => [time && time !== value ? time.values[i] : i / rate, v]).filter((r) => r.every(Number.isFinite));
  try {
    if (document.querySelector("[name=what]:checked").value === "wave") await sendColumn(rows);
    else {
      state("Judging …");
      const answer = await post(`/jobs/${job}/table`, { name, t: rows.map((r) => r[0]), rpm: rows.map((r) => r[1]), cut: el("cutorder").value, regime: how().regime });
      location.assign(`/jobs/${job}/cut?entry=${answer.entry}#entry-${answer.entry}`);
    }
  } catch (e) { state(e.message); toast(e.message); }
}

// slowest wave that can be sound, in Hz; below, a motion sensor gave it.
const slowestSound = 4000;

// sendColumn scales a wave to full scale; its rate is the mean of its times.
function sendColumn(rows) {
  const rate = (rows.length - 1) / (rows.at(-1)[0] - rows[0][0]);
  if (rate < slowestSound) return sendMotion(rows);
  const mean = rows.reduce((s, r) => s + r[1], 0) / rows.length;
  let top = 0;
  for (const r of rows) top = Math.max(top, Math.abs(r[1] - mean));
  return sendWave(Float32Array.from(rows, (r) => (0.9 * (r[1] - mean)) / (top || 1)), rate);
}

const drop = el("drop");
if (drop) {
  el("file").addEventListener("change", (e) => take(e.target.files[0]));
  for (const kind of ["dragover", "dragleave", "drop"]) {
    drop.addEventListener(kind, (e) => {
      e.preventDefault();
      drop.classList.toggle("over", kind === "dragover");
      if (kind === "drop") take(e.dataTransfer.files[0]);
    });
  }
  el("cancel").addEventListener("click", cancel);
  el("usetable").addEventListener("click", useTable);
}
