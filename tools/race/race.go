//go:build unix

// Package race times this program against a plain numpy version of it, by
// processor time on one core each, in the same run.
package race

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
)

// Seconds is the processor time this process has used.
func Seconds() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// Python runs a script with numpy on one core and returns the last line it
// prints.
func Python(python string, script []byte, args ...string) (string, error) {
	dir, err := os.MkdirTemp("", "race")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "plain.py")
	if err := os.WriteFile(path, script, 0o600); err != nil {
		return "", err
	}
	cmd := exec.Command(python, append([]string{path}, args...)...)
	cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	out, err := cmd.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%s: %w (Debian's python3-scipy is needed; name it with -python)\n%s", python, err, out)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	return lines[len(lines)-1], nil
}
