// Command benchshots looks at a running bench with a headless browser and
// keeps what it saw as pictures: phone, tablet, and dark.
//
//	go run ./tools/benchshots -base http://localhost:8420 -out shots / /new /jobs/1
package main

import (
	"context"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

func main() {
	base := flag.String("base", "http://localhost:8420", "address of the bench")
	out := flag.String("out", "shots", "folder for the pictures")
	whole := flag.Bool("whole", false, "the whole page, not what fits the screen")
	sizes := flag.String("sizes", "phone,tablet,dark", "which screens")
	flag.Parse()
	if err := run(*base, *out, *sizes, *whole, flag.Args()); err != nil {
		log.Fatal(err)
	}
}

func run(base, out, sizes string, whole bool, paths []string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate(base)); err != nil { // the browser lives as long as this context
		return err
	}
	for _, size := range strings.Split(sizes, ",") {
		for _, path := range paths {
			if err := shoot(ctx, base, out, size, path, whole); err != nil {
				return fmt.Errorf("%s on %s: %w", path, size, err)
			}
		}
	}
	return nil
}

func shoot(ctx context.Context, base, out, size, path string, whole bool) error {
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	width, height, mobile := int64(1280), int64(800), false
	if size != "tablet" {
		width, height, mobile = 360, 740, true
	}
	scheme := "light"
	if size == "dark" {
		scheme = "dark"
	}
	portrait := chromedp.EmulateLandscape
	if mobile {
		portrait = chromedp.EmulatePortrait
	}
	options := []chromedp.EmulateViewportOption{portrait}
	if mobile {
		options = append(options, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, media); err != nil {
		return err
	}
	err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height, options...), chromedp.Navigate(base+path), chromedp.Sleep(1200*time.Millisecond))
	if err != nil {
		return err
	}
	take := chromedp.CaptureScreenshot()
	if whole {
		take = chromedp.FullScreenshot(100)
	}
	picture, err := chromedp.Run(ctx, take)
	if err != nil {
		return err
	}
	name := strings.Trim(strings.NewReplacer("/", "-", "?", "-", "=", "-", "&", "-").Replace(path), "-")
	if name == "" {
		name = "start"
	}
	return os.WriteFile(filepath.Join(out, size+"-"+name+".png"), picture, 0o644)
}
