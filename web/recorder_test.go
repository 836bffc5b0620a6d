package web_test

import "testing"

// An audio clock that gives a quantum of 128 samples twice, as a busy one does,
// must not make a piece begin before the last one ended: the bench refuses that,
// and the recording would stand still.
func TestAudioClockThatGoesBack(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	open(t, ctx, jobURL(b, 1, "/listen"))
	got := eval[string](t, ctx, `(async () => {
		const { SoundRecorder } = await import(new URL("./recorder.js", document.querySelector('script[src*="listen"]').src));
		const recorder = new SoundRecorder(), begins = [];
		recorder.rate = 48000;
		recorder.sender = { push: (at) => begins.push(at) };
		[0, 4800, 9600 - 128, 14400 - 128].forEach((first, i) => recorder.piece({ first, wall: 1e12 + 100 * i, x: new Float32Array(4800) }));
		return begins.join(" ");
	})()`)
	if want := "0 4800 9600 14400"; got != want {
		t.Errorf("pieces begin at %s, want %s", got, want)
	}
}
