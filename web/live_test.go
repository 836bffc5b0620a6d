package web_test

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"halforder/engine"
	"halforder/practice"
	"halforder/web/take"
)

// slow makes a cheap phone of the browser: a quarter of this machine's speed,
// 1.6 Mbit/s and 150 ms there and back.
func slow(t testing.TB, ctx context.Context) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 4})
	must(t, err)
	conditions(t, ctx, network.Conditions{Latency: 150, DownloadThroughput: 200e3, UploadThroughput: 94e3})
}

func conditions(t testing.TB, ctx context.Context, c network.Conditions) {
	t.Helper()
	_, err := chromedp.Call(ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{&c}})
	must(t, err)
}

// writePracticeSound keeps half a minute of a practice four with a dead coil at
// 3 as a WAV file.
func writePracticeSound(file string) error {
	layout, err := engine.Parse("i4")
	if err != nil {
		return err
	}
	cfg := practice.Defaults(layout)
	f, err := practice.ParseFault("coil-open@3")
	if err != nil {
		return err
	}
	cfg.Faults, cfg.Running = append(cfg.Faults, f), true
	rec, _, err := practice.Run(cfg, practice.Watch(30), practice.Sensors{Sound: &practice.SoundSensor{Hz: 48000}})
	if err != nil {
		return err
	}
	pcm := take.PCM(rec.Sound.X)
	head := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x80\xbb\x00\x00\x00\x77\x01\x00\x02\x00\x10\x00data\x00\x00\x00\x00")
	binary.LittleEndian.PutUint32(head[4:], uint32(36+len(pcm)))
	binary.LittleEndian.PutUint32(head[40:], uint32(len(pcm)))
	return os.WriteFile(file, append(head, pcm...), 0o600)
}

// tickStops confirms all hard stops on the page.
const tickStops = `(document.querySelectorAll(".stops input").forEach(i => { i.checked = true }), true)`

// record begins to listen with the device itself and waits for the meter.
func record(t testing.TB, ctx context.Context, b *bench) {
	t.Helper()
	open(t, ctx, jobURL(b, 1, "/listen"))
	eval[bool](t, ctx, tickStops)
	tap(t, ctx, "#record")
	wait(t, ctx, 20*time.Second, `document.getElementById("rpm").textContent > 0`)
}

func finish(t testing.TB, ctx context.Context) {
	t.Helper()
	tap(t, ctx, "#finish")
	wait(t, ctx, 40*time.Second, `new URL(location.href).searchParams.get("entry") && document.querySelector(".finding h2")`)
}

// TestLiveListening hears a WAV file at the browser's microphone: speed and
// misfire on the meters, the finding on the card, the raw sound in the store.
func TestLiveListening(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 1280, 800)
	record(t, ctx, b)
	wait(t, ctx, 25*time.Second, `/misfires/.test(document.getElementById("sentence").textContent)`)
	keep(t, ctx, "meters")
	if rpm := eval[float64](t, ctx, `Number(document.getElementById("rpm").textContent)`); rpm < 650 || rpm > 850 {
		t.Errorf("%g rpm, the practice engine idles at about 750", rpm)
	}
	time.Sleep(6 * time.Second)
	finish(t, ctx)
	eval[bool](t, ctx, `(async () => { for (const p of document.querySelectorAll(".plot")) { p.scrollIntoView(); await new Promise(d => setTimeout(d, 150)) } return true })()`)
	wait(t, ctx, 10*time.Second, `document.querySelectorAll(".plot canvas").length === document.querySelectorAll(".plot").length`)
	eval[bool](t, ctx, `(document.querySelector(".plot").scrollIntoView(), true)`)
	keep(t, ctx, "finding")
	text := eval[string](t, ctx, `document.querySelector(".finding").innerText`)
	if !strings.Contains(text, "rpm") || strings.Contains(text, "automatic gain") || strings.Contains(text, "cannot be used") {
		t.Errorf("finding: %s", text)
	}
}

// seconds of the recording on the card, and its gaps, as the finding tells.
func recorded(t testing.TB, ctx context.Context, b *bench) (seconds float64, text string) {
	t.Helper()
	open(t, ctx, jobURL(b, 1, "/card"))
	text = eval[string](t, ctx, `document.querySelector(".timeline").innerText`)
	for _, line := range strings.Split(text, "\n") {
		if i := strings.LastIndex(line, ", "); strings.HasPrefix(line, "sound, ") && i > 0 {
			fmt.Sscanf(line[i+2:], "%g s", &seconds)
		}
	}
	return seconds, text
}

// noGap finishes a recording and sees that the bench has all that the browser
// heard. On a machine too busy to feed its own microphone the gap is true.
func noGap(t testing.TB, ctx context.Context) {
	t.Helper()
	lost := eval[float64](t, ctx, `document.getElementById("listen").recorder.zero.lost`)
	finish(t, ctx)
	text := eval[string](t, ctx, `document.querySelector(".finding").innerText`)
	if told := strings.Contains(text, "nothing was recorded for"); told != (lost > 0) {
		t.Errorf("the browser missed %.0f samples, the finding says: %s", lost, text)
	}
}

// TestLostNetwork cuts the network for three seconds in the middle: nothing is
// missing afterwards.
func TestLostNetwork(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	began := time.Now()
	record(t, ctx, b)
	conditions(t, ctx, network.Conditions{Offline: true})
	wait(t, ctx, 15*time.Second, `/No way to the bench/.test(document.getElementById("sendstate").textContent)`)
	keep(t, ctx, "lost")
	time.Sleep(3 * time.Second)
	conditions(t, ctx, network.Conditions{DownloadThroughput: -1, UploadThroughput: -1})
	wait(t, ctx, 20*time.Second, `/are safe/.test(document.getElementById("sendstate").textContent)`)
	noGap(t, ctx)
	took := time.Since(began).Seconds()
	if got, text := recorded(t, ctx, b); got < 5 || got > took {
		t.Errorf("%g s on the card after %.0f s\n%s", got, took, text)
	}
}

// TestKilledServer ends the server while a phone records and starts it again:
// the recording goes on where it was.
func TestKilledServer(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	record(t, ctx, b)
	b.stop()
	time.Sleep(2 * time.Second)
	b.start()
	wait(t, ctx, 20*time.Second, `/are safe/.test(document.getElementById("sendstate").textContent)`)
	noGap(t, ctx)
}

// TestLockedPhone stops the audio clock for two seconds, as a locked phone does:
// the gap is marked and the time stays true.
func TestLockedPhone(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	record(t, ctx, b)
	eval[bool](t, ctx, `(async () => {
		const audio = document.getElementById("listen").recorder.context;
		await audio.suspend();
		await new Promise(d => setTimeout(d, 2500));
		await audio.resume();
		return true })()`)
	time.Sleep(2 * time.Second)
	finish(t, ctx)
	text := eval[string](t, ctx, `document.querySelector(".finding").innerText`)
	if !strings.Contains(text, "nothing was recorded for 2.") || !strings.Contains(text, "both sides of the gaps") {
		t.Errorf("the gap is not told: %s", text)
	}
}

// TestPageThatDied reloads the phone's page in the middle: what was not yet at
// the bench is sent by the next page.
func TestPageThatDied(t *testing.T) {
	t.Parallel()
	slowTest(t)
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	page, die := chromedp.NewContext(ctx)
	must(t, chromedp.Do(page, chromedp.Navigate("about:blank"))) // the tab lives as long as this call's context
	open(t, page, b.url("/sensor?job=1"))
	eval[bool](t, page, tickStops)
	eval[bool](t, page, `(document.getElementById("record").click(), true)`)
	wait(t, page, 15*time.Second, `/are safe/.test(document.getElementById("sendstate").textContent)`)
	conditions(t, page, network.Conditions{Offline: true})
	time.Sleep(2 * time.Second)
	die()
	time.Sleep(500 * time.Millisecond)
	open(t, ctx, b.url("/sensor?job=1"))
	wait(t, ctx, 20*time.Second, `/rpm|cannot be used/.test(document.getElementById("toast").textContent)`)
	if got, text := recorded(t, ctx, b); got < 2 {
		t.Errorf("%g s on the card\n%s", got, text)
	}
}

// feel plays motion to a page as its sensor's events, in a tenth of the time it
// took; the time stamps stay true.
const feel = `async (rows) => {
	for (let i = 0; i < rows.length; i++) {
		const [t, x, y, z] = rows[i];
		const e = new DeviceMotionEvent("devicemotion", { accelerationIncludingGravity: { x, y, z }, interval: 16 });
		Object.defineProperty(e, "timeStamp", { value: 1000 * t });
		dispatchEvent(e);
		if (i % 6 === 5) await new Promise(d => setTimeout(d, 10));
	}
	return true }`

// TestMotionSensor feels a practice engine through synthetic motion events: the
// tablet shows it live, the card keeps what was felt and what it says.
func TestMotionSensor(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	phone, tablet := browser(t, 360, 740), browser(t, 1280, 800)
	open(t, tablet, jobURL(b, 1, "/listen"))
	open(t, phone, b.url("/sensor?job=1"))
	tap(t, phone, "#motion")
	wait(t, phone, 5*time.Second, `/tick each stop/.test(document.getElementById("toast").textContent)`)
	eval[bool](t, phone, tickStops)
	tap(t, phone, "#motion")
	wait(t, phone, 5*time.Second, `!document.getElementById("finish").hidden`)
	rows, err := json.Marshal(practiceShakes(t))
	must(t, err)
	eval[bool](t, phone, "("+feel+")("+string(rows)+")")
	wait(t, tablet, 10*time.Second, `/[56]\d samples/.test(document.getElementById("shaking").textContent) && Math.abs(document.getElementById("rpm").textContent - 750) < 80`)
	keep(t, tablet, "felt live")
	tap(t, phone, "#finish")
	wait(t, phone, 15*time.Second, `/rpm|cannot be used/.test(document.getElementById("sendstate").textContent)`)
	keep(t, phone, "felt")
	open(t, tablet, jobURL(b, 1, "/listen"))
	for _, want := range []string{"shaking", "What the phone felt", "phone"} {
		if got := eval[string](t, tablet, `document.querySelector(".finding").innerText`); !strings.Contains(got, want) {
			t.Errorf("the finding does not show %q: %s", want, got)
		}
	}
}

func practiceShakes(t testing.TB) (rows [][4]float64) {
	layout, err := engine.Parse("i4")
	must(t, err)
	cfg := practice.Defaults(layout)
	f, err := practice.ParseFault("coil-open@3")
	must(t, err)
	cfg.Faults, cfg.Running = append(cfg.Faults, f), true
	rec, _, err := practice.Run(cfg, practice.Watch(30), practice.Sensors{Phone: &practice.PhoneSensor{Hz: 60}})
	must(t, err)
	for _, s := range rec.Phone {
		rows = append(rows, [4]float64{s.T, s.X, s.Y, s.Z})
	}
	return rows
}

// TestTabletSeesWhatThePhoneEnters looks at a job on one device while another
// adds to it.
func TestTabletSeesWhatThePhoneEnters(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 1280, 800)
	open(t, ctx, jobURL(b, 1, ""))
	wait(t, ctx, 15*time.Second, `document.querySelector("#next h3")`)
	send(t, b, "/jobs/1/note", url.Values{"text": {"oil in the well of 2"}})
	wait(t, ctx, 10*time.Second, `document.body.innerText.includes("oil in the well of 2")`)
}

// TestPracticeIsOneTap streams a practice engine live after one tap.
func TestPracticeIsOneTap(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	ctx := browser(t, 1280, 800)
	open(t, ctx, b.url("/"))
	tap(t, ctx, `form[action="/practice"] button`)
	wait(t, ctx, 15*time.Second, `location.pathname.endsWith("/listen") && document.getElementById("rpm").textContent > 300`)
	keep(t, ctx, "live")
}
