package web_test

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halforder/web"
)

// TestFromCutOutToProof works a whole practice job: cut out hands free, renew
// what is found, prove it, report it. The engine runs four times as fast.
func TestFromCutOutToProof(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, func(c *web.Config) { c.PracticeSpeed = 4 })
	must(t, os.MkdirAll(filepath.Join(b.dir, "bench", "practice"), 0o700))
	fill(t, b, "i4", url.Values{"car": {"Practice engine"}})
	must(t, os.WriteFile(filepath.Join(b.dir, "bench", "practice", "1.json"), []byte(`{"engine":"i4","seed":7,"faults":["coil-open@3"]}`), 0o600))
	ctx := browser(t, 1280, 800)
	listenOnce(t, ctx, b)

	open(t, ctx, jobURL(b, 1, "/cut"))
	eval[bool](t, ctx, tickStops)
	tap(t, ctx, "#start")
	wait(t, ctx, 30*time.Second, `document.querySelectorAll("#drops li").length >= 1`)
	keep(t, ctx, "cutting")
	wait(t, ctx, 90*time.Second, `!document.getElementById("result").hidden`)
	keep(t, ctx, "result")
	if got := eval[string](t, ctx, `document.getElementById("resulttext").textContent`); !strings.Contains(got, "ylinder 3 gives nothing") {
		t.Errorf("the cut-out says %q, the engine has a dead coil at 3", got)
	}
	open(t, ctx, jobURL(b, 1, ""))
	wait(t, ctx, 15*time.Second, `document.querySelector("#next h3")`)
	keep(t, ctx, "plan")
	send(t, b, "/jobs/1/renew", url.Values{"kind": {"coil"}, "at": {"3"}})
	listenOnce(t, ctx, b)
	open(t, ctx, jobURL(b, 1, "/proof"))
	tap(t, ctx, `label:has([name=recording])`)
	tap(t, ctx, `form:has([name=recording]) button`)
	wait(t, ctx, 10*time.Second, `/proven/.test(document.body.innerText)`)
	keep(t, ctx, "proof")
	send(t, b, "/jobs/1/prove", url.Values{"minutes": {"3"}, "misses": {"0"}, "regime": {"idle"}})
	open(t, ctx, jobURL(b, 1, "/proof"))
	wait(t, ctx, 10*time.Second, `/\bproven, .* sure/.test(document.body.innerText)`)
	open(t, ctx, jobURL(b, 1, "/report"))
	wait(t, ctx, 10*time.Second, `/coil at cylinder 3 renewed/.test(document.getElementById("report").contentDocument.body.innerText)`)
	keep(t, ctx, "report")
}

// listenOnce records the practice engine for a while and has it judged.
func listenOnce(t testing.TB, ctx context.Context, b *bench) {
	t.Helper()
	open(t, ctx, jobURL(b, 1, "/listen"))
	wait(t, ctx, 25*time.Second, `document.getElementById("rpm").textContent > 300`)
	tap(t, ctx, "#record")
	wait(t, ctx, 40*time.Second, `parseInt(document.getElementById("sendstate").textContent.replace(/\D+/, "")) >= 20`)
	finish(t, ctx)
}

// TestCutByHandHearsThePhone runs the script against a phone's sound instead of
// the practice engine's own speed: the engine of the WAV file is never cut, so
// nobody may be accused.
func TestCutByHandHearsThePhone(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, nil)
	fill(t, b, "i4", url.Values{})
	ctx := browser(t, 1280, 800)
	record(t, ctx, b)
	status, body := try(t, b, "/jobs/1/cut/start", nil)
	if status == 200 {
		t.Fatalf("it starts without the stops confirmed: %s", body)
	}
	got := eval[string](t, ctx, `fetch("/jobs/1/cut/start", {method: "POST", body: JSON.stringify({means: "injector", stops: ["flashing", "fuel-leak", "hybrid"]})}).then(a => a.text())`)
	if !strings.Contains(got, "done") {
		t.Fatal(got)
	}
	eval[bool](t, ctx, `(window.spoken = [], new EventSource("/jobs/1/live").addEventListener("say", e => spoken.push(JSON.parse(e.data).words)), true)`)
	wait(t, ctx, 60*time.Second, `spoken.some(w => /^Pull [1-4]/.test(w))`)
}
