package folder

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/practice"
)

var update = flag.Bool("update", false, "take over the present fingerprint")

const fingerprintFile = "testdata/fingerprint.txt"

// The same seed gives the same bytes on every machine. Run it also with fused
// multiply-add (GOAMD64=v3 on amd64, or any arm64) to see that rounding hides it.
func TestSameBytesFromTheSameSeed(t *testing.T) {
	a, b := fingerprint(t, t.TempDir()), fingerprint(t, t.TempDir())
	if a != b {
		t.Fatal("two runs of one seed differ")
	}
	if *update {
		if err := os.WriteFile(fingerprintFile, []byte(a+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(fingerprintFile)
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(string(want)) != a {
		t.Errorf("fingerprint %s, expected %s: if the engine was changed on purpose, run with -update", a, want)
	}
}

func fingerprint(t *testing.T, dir string) string {
	t.Helper()
	cfg, script, rec, truth := play(t)
	dir = filepath.Join(dir, "rec")
	if _, err := Write(dir, cfg, rec); err != nil {
		t.Fatal(err)
	}
	if err := WriteTruth(dir+".truth.json", cfg, script, truth); err != nil {
		t.Fatal(err)
	}
	h := sha256.New()
	err := filepath.WalkDir(filepath.Dir(dir), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		h.Write([]byte(filepath.Base(path)))
		h.Write(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func play(t *testing.T) (practice.Config, practice.Script, practice.Recording, practice.Truth) {
	t.Helper()
	layout, err := engine.Parse("v6-142536")
	if err != nil {
		t.Fatal(err)
	}
	cfg := practice.Defaults(layout)
	cfg.Running = false
	fault, err := practice.ParseFault("coil-weak@3:0.9,random=0.5")
	if err != nil {
		t.Fatal(err)
	}
	cfg.Faults = []practice.Fault{fault}
	script, err := practice.ParseScript("0 start\n4 unplug injector 2\n6 reconnect injector 2\n8 end")
	if err != nil {
		t.Fatal(err)
	}
	rec, truth, err := practice.Run(cfg, script, practice.Everything())
	if err != nil {
		t.Fatal(err)
	}
	return cfg, script, rec, truth
}

func TestFilesAreComplete(t *testing.T) {
	cfg, _, rec, _ := play(t)
	dir := filepath.Join(t.TempDir(), "rec")
	list, err := Write(dir, cfg, rec)
	if err != nil {
		t.Fatal(err)
	}
	if len(list.Files) != 12 {
		t.Errorf("%d files, expected 12: %v", len(list.Files), list.Files)
	}
	b, err := os.ReadFile(filepath.Join(dir, "sound.wav"))
	if err != nil {
		t.Fatal(err)
	}
	if got := binary.LittleEndian.Uint32(b[40:]); int(got) != len(b)-44 || int(got) != 2*len(rec.Sound.X) {
		t.Errorf("wav says %d bytes of sound, file holds %d", got, len(b)-44)
	}
	if _, err := Write(dir, cfg, rec); err == nil {
		t.Error("a second recording went into the same folder")
	}
	about, err := os.ReadFile(filepath.Join(dir, "recordings.json"))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(about), "coil-weak") {
		t.Error("the list of recordings gives the fault away")
	}
}
