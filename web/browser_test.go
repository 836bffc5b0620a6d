package web_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"halforder/engine"
	"halforder/practice"
	"halforder/reason/fault"
	"halforder/store/sqlite"
	"halforder/web"
)

// bench is a served bench that can be killed and started again on its port.
type bench struct {
	t      testing.TB
	dir    string
	addr   string
	config func(*web.Config)
	stop   func()
}

func newBench(t testing.TB, config func(*web.Config)) *bench {
	t.Helper()
	b := &bench{t: t, dir: t.TempDir(), addr: "127.0.0.1:0", config: config}
	b.start()
	t.Cleanup(func() { b.stop() })
	return b
}

func (b *bench) url(path string) string { return "http://" + b.addr + path }

func (b *bench) start() {
	b.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	store, err := sqlite.Open(ctx, b.dir)
	must(b.t, err)
	catalogue, err := fault.Default()
	must(b.t, err)
	c := web.Config{Store: store, Catalogue: catalogue, Dir: filepath.Join(b.dir, "bench"), Now: time.Now, PhonePort: func() string { return "8421" }}
	if b.config != nil {
		b.config(&c)
	}
	served, err := web.New(c)
	must(b.t, err)
	var l net.Listener
	for range 50 { // the port of a killed server is free a moment later
		if l, err = net.Listen("tcp", b.addr); err == nil {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	must(b.t, err)
	b.addr = l.Addr().String()
	server := &http.Server{Handler: served.Handler()}
	go served.Run(ctx)
	go server.Serve(l)
	var once sync.Once
	b.stop = func() {
		once.Do(func() {
			cancel()
			server.Close()
			if err := errors.Join(served.Close(), store.Close()); err != nil {
				b.t.Error(err)
			}
		})
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// chromium is Debian's browser, or skips the test aloud.
func chromium(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("NO BROWSER: the pages are NOT tested. Install chromium with tools/install-browser.sh and run again")
	return ""
}

// shared is the one browser of all tests: starting one takes seconds.
var shared struct {
	once sync.Once
	ctx  context.Context
	err  error
	stop func()
}

// TestMain lets more tests run at once than there are processors: most of them
// wait for an engine.
func TestMain(m *testing.M) {
	flag.Parse()
	if flag.Lookup("test.parallel").Value.String() == strconv.Itoa(runtime.GOMAXPROCS(0)) {
		flag.Set("test.parallel", "5")
	}
	code := m.Run()
	if shared.stop != nil {
		shared.stop()
	}
	os.Exit(code)
}

// launch starts the browser; the sound of a practice engine plays at its
// microphone.
func launch(path string) {
	dir, err := os.MkdirTemp("", "bench-browser")
	if err != nil {
		shared.err = err
		return
	}
	sound := filepath.Join(dir, "engine.wav")
	if shared.err = writePracticeSound(sound); shared.err != nil {
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(filepath.Join(dir, "profile")), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("autoplay-policy", "no-user-gesture-required"),
		chromedp.Flag("use-file-for-fake-audio-capture", sound))
	ctx, cancelAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(ctx)
	shared.ctx, shared.stop = ctx, func() { cancel(); cancelAllocator(); os.RemoveAll(dir) }
	shared.err = chromedp.Do(ctx, chromedp.Navigate("about:blank"))
}

// browser opens a tab of the given size, with storage of its own.
func browser(t testing.TB, width, height int64) context.Context {
	t.Helper()
	path := chromium(t)
	shared.once.Do(func() { launch(path) })
	must(t, shared.err)
	ctx, cancel := chromedp.NewContext(shared.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	must(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	size(t, ctx, width, height)
	return ctx
}

// slowTest marks a test that lasts as long as an engine has to run.
func slowTest(t testing.TB) {
	t.Helper()
	if testing.Short() {
		t.Skip("real time: left out with -short")
	}
}

func size(t testing.TB, ctx context.Context, width, height int64) {
	t.Helper()
	options := []chromedp.EmulateViewportOption{chromedp.EmulateLandscape}
	if width < height {
		options = []chromedp.EmulateViewportOption{chromedp.EmulatePortrait, chromedp.EmulateMobile, chromedp.EmulateTouch}
	}
	must(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, height, options...)))
}

// eval runs a script and gives its value; promises are awaited.
func eval[T any](t testing.TB, ctx context.Context, script string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience*30*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%v\nin %s", err, script)
	}
	return v
}

// patience is how much longer a test waits than a page takes on a machine of its
// own: limits are there to catch a hang.
const patience = 3

// wait waits until a script is true.
func wait(t testing.TB, ctx context.Context, within time.Duration, script string) {
	t.Helper()
	within *= patience
	end := time.Now().Add(within)
	for time.Now().Before(end) {
		ask, cancel := context.WithTimeout(ctx, 5*time.Second)
		ok, err := chromedp.Run(ask, chromedp.Evaluate[bool]("Boolean("+script+")"))
		cancel()
		if err == nil && ok {
			return
		}
		time.Sleep(60 * time.Millisecond)
	}
	keep(t, ctx, "failed")
	text, _ := chromedp.Run(ctx, chromedp.Evaluate[string]("location.href + '\\n' + document.body.innerText.slice(0, 2500)"))
	t.Fatalf("not within %v: %s\n%s", within, script, text)
}

func open(t testing.TB, ctx context.Context, url string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience*30*time.Second)
	defer cancel()
	err := chromedp.Do(ctx, chromedp.Navigate(url))
	if err != nil && strings.Contains(err.Error(), "ERR_ABORTED") { // the page before was still on its way elsewhere
		time.Sleep(time.Second)
		err = chromedp.Do(ctx, chromedp.Navigate(url))
	}
	must(t, err)
}

// tap taps what a selector finds, with the pointer.
func tap(t testing.TB, ctx context.Context, selector string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience*15*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS(selector)), chromedp.Click(chromedp.CSS(selector))); err != nil {
		keep(t, ctx, "failed")
		t.Fatalf("tap %s: %v", selector, err)
	}
}

func typeIn(t testing.TB, ctx context.Context, selector, text string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience*15*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS(selector)), chromedp.SendKeys(chromedp.CSS(selector), text)); err != nil {
		t.Fatalf("type into %s: %v", selector, err)
	}
}

// keep keeps a picture of what is seen, as an artefact to look at.
func keep(t testing.TB, ctx context.Context, name string) {
	ctx, cancel := context.WithTimeout(ctx, patience*15*time.Second)
	defer cancel()
	picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Logf("no picture %s: %v", name, err)
		return
	}
	name = strings.NewReplacer("/", "-", " ", "-").Replace(t.Name()+"-"+name) + ".png"
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name), picture, 0o644); err != nil {
		t.Logf("no picture %s: %v", name, err)
	}
}

func dark(t testing.TB, ctx context.Context, on bool) {
	t.Helper()
	scheme := map[bool]string{true: "dark", false: "light"}[on]
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	must(t, err)
}

// faulty is a practice engine that runs with faults.
func faulty(t testing.TB, layout string, faults ...string) practice.Config {
	t.Helper()
	l, err := engine.Parse(layout)
	must(t, err)
	cfg := practice.Defaults(l)
	cfg.Running = true
	for _, text := range faults {
		f, err := practice.ParseFault(text)
		must(t, err)
		cfg.Faults = append(cfg.Faults, f)
	}
	return cfg
}

func jobURL(b *bench, id int, page string) string { return b.url(fmt.Sprintf("/jobs/%d%s", id, page)) }
