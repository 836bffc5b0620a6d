package web_test

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halforder/practice"
)

// choose gives a file to the page as if it had been dropped.
func dropScript(name, kind string, data []byte) string {
	return fmt.Sprintf(`(() => {
		const raw = Uint8Array.from(atob(%q), c => c.charCodeAt(0));
		const carried = new DataTransfer();
		carried.items.add(new File([raw], %q, { type: %q }));
		document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
		return true })()`, base64.StdEncoding.EncodeToString(data), name, kind)
}

func TestDroppedWAV(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	file := filepath.Join(t.TempDir(), "engine.wav")
	must(t, writePracticeSound(file))
	wav, err := os.ReadFile(file)
	must(t, err)
	ctx := browser(t, 1280, 800)
	open(t, ctx, jobURL(b, 1, "/files"))
	eval[bool](t, ctx, dropScript("../../idle <b>.wav", "audio/wav", wav))
	wait(t, ctx, 40*time.Second, `location.pathname.endsWith("/listen") && document.querySelector(".finding h2")`)
	if said := eval[string](t, ctx, `document.querySelector(".plothead + .soft").textContent`); !strings.Contains(said, "marked: firings in their order") {
		t.Errorf("below the plot of one cycle stands %q", said)
	}
	text := eval[string](t, ctx, `document.querySelector(".finding").innerText`)
	if !strings.Contains(text, "misfires") || !strings.Contains(text, "idle <b>.wav") || strings.Contains(text, "..") {
		t.Errorf("finding: %s", text)
	}
	plotsTakeFingers(t, ctx)
}

func TestFileThatIsNoSound(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	ctx := browser(t, 360, 740)
	open(t, ctx, jobURL(b, 1, "/files"))
	eval[bool](t, ctx, dropScript("archive.mp4", "video/mp4", []byte("PK\x03\x04 not a video")))
	wait(t, ctx, 10*time.Second, `/holds no sound/.test(document.getElementById("filestate").textContent)`)
}

// cutTable is the speed of a practice six with a dead coil at 5, cylinders cut
// one after the other, as a table with decimal commas.
func cutTable(t *testing.T) []byte {
	cfg := faulty(t, "i6", "coil-open@5")
	script := practice.Watch(15)
	for n := 1; n <= 6; n++ {
		at := 15 + 12*float64(n-1)
		script = script.Then(at, practice.Action(fmt.Sprintf("unplug injector %d", n))).Then(at+4, practice.Action(fmt.Sprintf("reconnect injector %d", n)))
	}
	script.Length += 12
	rec, _, err := practice.Run(cfg, script, practice.Sensors{Bus: &practice.BusSensor{PerSecond: 10, Names: []string{"rpm"}}})
	must(t, err)
	var out strings.Builder
	out.WriteString("time;engine speed;remark\r\n")
	for _, v := range rec.Bus {
		fmt.Fprintf(&out, "%s;%s;x\r\n", strings.Replace(fmt.Sprintf("%.2f", v.T), ".", ",", 1), strings.Replace(fmt.Sprintf("%.2f", v.Value), ".", ",", 1))
	}
	return []byte(out.String())
}

func TestTableWithColumnPicker(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i6", nil)
	ctx := browser(t, 360, 740)
	open(t, ctx, jobURL(b, 1, "/files"))
	eval[bool](t, ctx, dropScript("speed.csv", "text/csv", cutTable(t)))
	wait(t, ctx, 10*time.Second, `document.querySelectorAll(".column").length === 2`)
	keep(t, ctx, "picker")
	typeIn(t, ctx, "#cutorder", "1 2 3 4 5 6")
	tap(t, ctx, "#usetable")
	wait(t, ctx, 20*time.Second, `location.pathname.endsWith("/cut") && document.querySelector(".finding h2")`)
	keep(t, ctx, "judged")
	got := eval[string](t, ctx, `document.querySelector(".finding h2").textContent`)
	if strings.Contains(got, "weak") && !strings.Contains(got, "5") || strings.Contains(got, "gives nothing") && !strings.Contains(got, "ylinder 5") {
		t.Errorf("it accuses a good cylinder: %q; the dead coil is at 5", got)
	}
	t.Log(got)
}
