// The microphone and the motion sensor of this device, raw.
import { Sender } from "./sender.js";

// refuse says in plain words why there is no microphone.
function refuse(e) {
  if (!globalThis.isSecureContext) return new Error("The browser gives sensors to encrypted pages only: open the bench by its https address.");
  if (e?.name === "NotAllowedError") return new Error("The microphone is not allowed: allow it for this page in the browser's settings, then tap again.");
  if (e?.name === "NotFoundError") return new Error("This device has no microphone.");
  return e;
}

const flag = (v) => (v === undefined ? "unknown" : v ? "on" : "off");

export class SoundRecorder {
  async start(head, tell) {
    if (!navigator.mediaDevices?.getUserMedia) throw refuse();
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } });
    } catch (e) { throw refuse(e); }
    const got = this.stream.getAudioTracks()[0].getSettings();
    this.flags = { echo: flag(got.echoCancellation), noise: flag(got.noiseSuppression), gain: flag(got.autoGainControl) };
    this.context = new AudioContext();
    await this.context.audioWorklet.addModule(new URL("./worklet.js", import.meta.url));
    await this.context.resume();
    this.rate = this.context.sampleRate;
    this.sender = Sender.fresh({ ...head, sensor: "sound", rate_hz: this.rate, flags: this.flags }, tell);
    this.node = new AudioWorkletNode(this.context, "gather", { numberOfOutputs: 0 });
    this.node.port.onmessage = (e) => this.piece(e.data);
    this.source = this.context.createMediaStreamSource(this.stream);
    this.source.connect(this.node);
    this.wake();
  }

  // piece turns samples into 16 bit and places them on the recording's clock.
  // The audio clock stands still while a phone is locked; the wall clock does
  // not, and the difference is a gap.
  piece({ first, wall, x, end }) {
    if (end) { this.flushed?.(); return; }
    this.zero ??= { first, wall: wall - (1000 * x.length) / this.rate, lost: 0 };
    let at = first - this.zero.first + this.zero.lost;
    const due = Math.round(((wall - this.zero.wall) * this.rate) / 1000) - x.length;
    if (due - at > this.rate / 2) { this.zero.lost += due - at; at = due; }
    const again = (this.end ?? at) - at; // a busy audio clock may give a moment twice
    if (again > 0) { this.zero.lost += again; at += again; }
    this.missed = (this.missed ?? 0) + at - (this.end ?? at); // samples that this device did not give
    this.end = at + x.length;
    const pcm = new Int16Array(x.length);
    for (let i = 0; i < x.length; i++) pcm[i] = Math.round(Math.max(-1, Math.min(1, x[i])) * 32767);
    this.sender.push(at, pcm.buffer);
  }

  // wake keeps the screen on; a phone that may lock stops recording.
  async wake() {
    const hold = async () => { try { this.lock = await navigator.wakeLock?.request("screen"); } catch { /* the gap will show */ } };
    this.seen = async () => { if (document.visibilityState === "visible") { await this.context.resume().catch(() => {}); hold(); } };
    document.addEventListener("visibilitychange", this.seen);
    hold();
  }

  async finish() {
    await Promise.race([new Promise((done) => { this.flushed = done; this.node.port.postMessage("flush"); }), new Promise((d) => setTimeout(d, 500))]);
    this.source.disconnect();
    for (const t of this.stream.getTracks()) t.stop();
    this.context.close();
    this.lock?.release?.();
    document.removeEventListener("visibilitychange", this.seen);
    return this.sender.finish();
  }
}

// motionBytes packs rows of time and up to three accelerations as the bench
// keeps them.
export function motionBytes(rows) {
  const data = new DataView(new ArrayBuffer(20 * rows.length));
  rows.forEach(([t, x, y = 0, z = 0], i) => {
    data.setFloat64(20 * i, t, true);
    [x, y, z].forEach((v, k) => data.setFloat32(20 * i + 8 + 4 * k, v, true));
  });
  return data.buffer;
}

export class MotionRecorder {
  async start(head, tell) {
    if (typeof DeviceMotionEvent === "undefined") throw new Error("This device has no motion sensor.");
    if (DeviceMotionEvent.requestPermission && (await DeviceMotionEvent.requestPermission()) !== "granted") throw new Error("The motion sensor is not allowed: allow it, then tap again.");
    this.sender = Sender.fresh({ ...head, sensor: "motion", rate_hz: 0 }, tell);
    this.rows = [];
    this.count = 0;
    this.felt = (e) => {
      const a = e.accelerationIncludingGravity;
      if (!a || a.x === null) return;
      this.rows.push([e.timeStamp / 1000, a.x, a.y, a.z]);
      if (this.rows.length >= 8) this.flush();
    };
    addEventListener("devicemotion", this.felt);
  }

  flush() {
    if (this.rows.length) this.sender.push(this.count, motionBytes(this.rows));
    this.count += this.rows.length;
    this.rows = [];
  }

  async finish() {
    removeEventListener("devicemotion", this.felt);
    this.flush();
    return this.sender.finish();
  }
}

// stateWords says how the sending goes.
export function stateWords(s) {
  if (s.failed) return `Stopped: ${s.failed.message}`;
  if (s.trouble) return `No way to the bench. Recording goes on here, ${(s.waiting / 10).toFixed(0)} s wait to be sent.`;
  if (s.waiting > 10) return `Sending, ${(s.waiting / 10).toFixed(0)} s behind.`;
  return `Recording. ${(s.safe / 10).toFixed(0)} s are safe at the bench.`;
}
