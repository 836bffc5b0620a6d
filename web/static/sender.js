// Sends pieces in order, over and over if need be. A piece is forgotten when
// the bench has it on its disk, never before.
import { api, post } from "./bench.js";
import { keepTake, keepPiece, dropPieces, dropTake, leftPieces } from "./keep.js";

const pause = (ms) => new Promise((done) => setTimeout(done, ms));
const mostPieces = 50, mostBytes = 300e3; // in one request
const firm = [400, 403, 404, 413, 422]; // trying again would not help

export class Sender {
  constructor(head, tell, pieces = []) {
    this.head = head;
    this.tell = tell;
    this.pieces = new Map(pieces.map((p) => [p.seq, p]));
    this.made = pieces.length ? pieces.at(-1).seq + 1 : 0;
    this.next = pieces.length ? pieces[0].seq : 0;
    this.safe = this.next;
    this.closed = false;
    this.failed = null;
    this.running = this.run();
  }

  static fresh(head, tell) {
    const full = { key: crypto.randomUUID(), ...head };
    keepTake(full);
    return new Sender(full, tell);
  }

  static async left(head, tell) { return new Sender(head, tell, await leftPieces(head.key)); }

  push(first, data) {
    const seq = this.made++;
    this.pieces.set(seq, { seq, first, data });
    keepPiece(this.head.key, seq, first, data);
    this.kick?.();
  }

  async run() {
    let wait = 500;
    for (;;) {
      if (this.failed) return;
      const idle = this.next >= this.made && (this.safe >= this.made || !this.pieces.size);
      if (this.id && idle && this.closed) return;
      if (this.id && this.next >= this.made) {
        await Promise.race([new Promise((done) => { this.kick = done; }), pause(400)]);
        if (this.next >= this.made && this.safe < this.made) await this.once(() => this.ask()).catch(() => {});
        continue;
      }
      try {
        await this.once(() => (this.id ? this.send() : this.begin()));
        wait = 500;
        this.tell(this);
      } catch (e) {
        this.trouble = e.message;
        if (firm.includes(e.status)) { this.failed = e; this.tell(this); return; }
        this.tell(this);
        await pause(wait);
        wait = Math.min(wait * 1.6, 3000);
      }
    }
  }

  async once(work) { await work(); this.trouble = null; }

  async begin() {
    const got = await post("/takes", this.head);
    this.id = got.id;
    this.took(got);
  }

  async ask() { this.took(await api(`/takes/${this.id}`)); }

  // send sends the next piece, and those that wait behind it: on a slow network
  // one request a piece would never catch up.
  async send() {
    const batch = [];
    let size = 0;
    for (let seq = this.next; seq < this.made && batch.length < mostPieces; seq++) {
      const piece = this.pieces.get(seq);
      if (!piece || (batch.length && size + piece.data.byteLength > mostBytes)) break;
      batch.push(piece);
      size += piece.data.byteLength;
    }
    if (!batch.length) throw Object.assign(new Error("a piece is gone from this phone"), { status: 422 });
    const list = (f) => batch.map(f).join(",");
    const path = `/takes/${this.id}/chunks?seq=${batch[0].seq}&first=${list((p) => p.first)}&bytes=${list((p) => p.data.byteLength)}`;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), 8000);
    try {
      this.took(await api(path, { method: "POST", body: new Blob(batch.map((p) => p.data)), signal: stop.signal }));
    } catch (e) {
      if (e.status !== 409) throw e;
      this.took(e.body);
    } finally {
      clearTimeout(timer);
    }
  }

  took(ack) {
    this.next = ack.next;
    if (ack.safe > this.safe) {
      for (let i = this.safe; i < ack.safe; i++) this.pieces.delete(i);
      this.safe = ack.safe;
      dropPieces(this.head.key, ack.safe);
    }
  }

  get waiting() { return this.made - this.next; }

  // finish sends the rest and has the bench judge; again and again until it did.
  async finish() {
    this.closed = true;
    this.kick?.();
    await this.running;
    if (this.failed) throw this.failed;
    for (;;) {
      try {
        const answer = await post(`/takes/${this.id}/finish`, { chunks: this.made });
        await dropTake(this.head.key);
        return answer;
      } catch (e) {
        if (firm.includes(e.status)) throw e;
        this.trouble = e.message;
        this.tell(this);
        await pause(1000);
      }
    }
  }
}
