package web_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

func key(t testing.TB, ctx context.Context, keys string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	must(t, chromedp.Do(ctx, chromedp.KeyEvent(keys)))
}

// tabTo presses Tab until what has the focus matches, as somebody without a
// pointer does.
func tabTo(t testing.TB, ctx context.Context, selector string) {
	t.Helper()
	for range 60 {
		if eval[bool](t, ctx, `!!document.activeElement?.matches(`+"`"+selector+"`"+`)`) {
			return
		}
		key(t, ctx, "\t")
	}
	t.Fatalf("Tab never reaches %s; the focus is at %s", selector, eval[string](t, ctx, `document.activeElement.outerHTML.slice(0, 120)`))
}

// TestKeyboardAlone opens a job without a pointer: everything is reached by
// Tab, told by a visible focus, and done by Enter, space and arrows.
func TestKeyboardAlone(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	ctx := browser(t, 1280, 800)
	open(t, ctx, b.url("/"))
	key(t, ctx, "\t")
	if !eval[bool](t, ctx, `document.activeElement.matches(".skip") && document.activeElement.getBoundingClientRect().left >= 0`) {
		t.Error("the first Tab does not show the link that skips to the content")
	}
	tabTo(t, ctx, `a[href="/new"]`)
	if width := eval[string](t, ctx, `getComputedStyle(document.activeElement).outlineWidth`); width == "0px" {
		t.Error("the focus cannot be seen")
	}
	key(t, ctx, "\r")
	wait(t, ctx, 10*time.Second, `location.pathname === "/new" && document.activeElement?.name === "car"`)
	key(t, ctx, "Tarn Corvid")
	tabTo(t, ctx, "details[name=count]:nth-of-type(2) summary") // four cylinders
	key(t, ctx, " ")
	tabTo(t, ctx, "[name=engine]")
	key(t, ctx, " ")
	tabTo(t, ctx, "[name=numbered]")
	key(t, ctx, " ")
	tabTo(t, ctx, "#intake button.big")
	key(t, ctx, "\r")
	wait(t, ctx, 10*time.Second, `location.pathname === "/jobs/1" && document.body.innerText.includes("Tarn Corvid")`)
	tabTo(t, ctx, `.cyl[href$="/cylinder/3"]`)
	key(t, ctx, "\r")
	wait(t, ctx, 10*time.Second, `document.querySelector("h1")?.textContent === "Cylinder 3"`)
}

// TestMoneySpentAgainstConsent enters consent and what was spent: the page adds
// it up and warns when more is spent than was agreed.
func TestMoneySpentAgainstConsent(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	if page := get(t, b, "/jobs/1/money"); !strings.Contains(page, "No consent is on the card") {
		t.Error("it does not say that nobody has agreed to anything")
	}
	send(t, b, "/jobs/1/agree", url.Values{"who": {"Ms Oduya"}, "limit": {"100"}, "how": {"by telephone"}})
	send(t, b, "/jobs/1/renew", url.Values{"kind": {"coil"}, "at": {"3"}, "cash": {"48.50"}, "minutes": {"12"}})
	page := get(t, b, "/jobs/1/money")
	for _, want := range []string{"12 min", "48.50", "100.00", "by telephone"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of money does not show %q", want)
		}
	}
	if strings.Contains(page, "More is spent") {
		t.Error("it warns though less was spent than agreed")
	}
	send(t, b, "/jobs/1/mend", url.Values{"words": {"ground strap renewed"}, "cash": {"60"}})
	if page := get(t, b, "/jobs/1/money"); !strings.Contains(page, "More is spent than was agreed") {
		t.Error("it does not warn though more was spent than agreed")
	}
}

func get(t testing.TB, b *bench, path string) string {
	t.Helper()
	answer, err := http.Get(b.url(path))
	must(t, err)
	_, body := read(t, answer)
	return body
}

// read gives status and body.
func read(t testing.TB, answer *http.Response) (int, string) {
	t.Helper()
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	must(t, err)
	return answer.StatusCode, string(body)
}

// TestNumberingIsConfirmedOrCorrected: the drawing asks whether the engine is
// as drawn until somebody looked, and follows who says what is true.
func TestNumberingIsConfirmedOrCorrected(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "v6-142536", url.Values{"numbered": nil})
	page := get(t, b, "/jobs/1")
	if !strings.Contains(page, "Look at the engine") || !strings.Contains(page, "Fires 1–4–2–5–3–6") {
		t.Fatal("it neither draws the firing order nor asks whether it is right")
	}
	send(t, b, "/jobs/1/numbering", url.Values{"engine_own": {"1-2-3-4-5-6,banks=1-3-5/2-4-6"}})
	page = get(t, b, "/jobs/1")
	if strings.Contains(page, "Look at the engine") || !strings.Contains(page, "Fires 1–2–3–4–5–6") {
		t.Error("the drawing does not follow the correction")
	}
	if status, words := try(t, b, "/jobs/1/numbering", url.Values{"engine_own": {"1-2-2-4"}}); status != http.StatusUnprocessableEntity || !strings.Contains(words, "Not done") {
		t.Errorf("an engine that cannot be gives %d", status)
	}
}

// TestCancelledFileLeavesNothing drops a long recording on a slow network, sees
// the progress, and cancels.
func TestCancelledFileLeavesNothing(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	open(t, ctx, jobURL(b, 1, "/files"))
	slow(t, ctx)
	eval[bool](t, ctx, dropScript("idle.wav", "audio/wav", quietWAV(25)))
	wait(t, ctx, 20*time.Second, `!document.getElementById("progress").hidden && document.getElementById("progress").getAttribute("aria-valuenow") > 0`)
	keep(t, ctx, "sending")
	tap(t, ctx, "#cancel")
	wait(t, ctx, 5*time.Second, `/nothing is on the card/.test(document.getElementById("filestate").textContent)`)
	for range 40 { // the bench throws away what had come
		if !strings.Contains(get(t, b, "/jobs/1/listen"), "Not finished yet") {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if page := get(t, b, "/jobs/1/listen"); strings.Contains(page, "Not finished yet") || strings.Contains(page, `class="sheet finding"`) {
		t.Error("something of the cancelled file is left")
	}
}

// TestLostBenchIsSaidAloud kills the server while a plug is off: the tablet
// says at once that every plug must go back.
func TestLostBenchIsSaidAloud(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	practiceJob(t, b, `{"engine":"i4","seed":7,"faults":["coil-open@3"]}`)
	ctx := browser(t, 360, 740)
	open(t, ctx, jobURL(b, 1, "/cut"))
	eval[bool](t, ctx, `(window.spoken = [], speechSynthesis.speak = (u) => spoken.push(u.text), true)`)
	eval[bool](t, ctx, tickStops)
	for range 20 { // the practice engine is built when first asked for
		ask(t, b, "/jobs/1/practice", []byte(`{"do":"look"}`))
		tap(t, ctx, "#start")
		if eval[bool](t, ctx, `new Promise(d => setTimeout(() => d(!document.getElementById("running").hidden), 600))`) {
			break
		}
	}
	wait(t, ctx, 10*time.Second, `document.getElementById("prompt").textContent !== ""`)
	b.stop()
	wait(t, ctx, 10*time.Second, `/Put every plug back/.test(document.getElementById("prompt").textContent) && spoken.some(w => /Put every plug back/.test(w))`)
}
