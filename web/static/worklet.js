// Gathers raw samples into pieces of a tenth of a second. Each piece carries
// the index of its first sample and the wall clock, so that a pause shows.
class Gather extends AudioWorkletProcessor {
  constructor() {
    super();
    this.size = Math.round(sampleRate / 10);
    this.begin();
    this.port.onmessage = () => { this.flush(); this.port.postMessage({ end: true }); };
  }
  begin() { this.piece = new Float32Array(this.size); this.used = 0; this.first = -1; }
  flush() {
    if (!this.used) return;
    const x = this.piece.slice(0, this.used);
    this.port.postMessage({ first: this.first, wall: Date.now(), x }, [x.buffer]);
    this.begin();
  }
  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) return true;
    const n = channels[0].length;
    if (this.used && currentFrame !== this.first + this.used) this.flush(); // frames were skipped
    for (let i = 0; i < n; i++) {
      if (!this.used) this.first = currentFrame + i;
      let v = 0;
      for (const c of channels) v += c[i];
      this.piece[this.used++] = v / channels.length;
      if (this.used === this.size) this.flush();
    }
    return true;
  }
}
registerProcessor("gather", Gather);
