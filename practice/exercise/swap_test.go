package exercise

import (
	"strings"
	"testing"
)

// Whoever swaps may say with which cylinder; where both missed before, that decides what
// the swap can tell.
func TestSwapWithTheCylinderAskedFor(t *testing.T) {
	b := carWith(t, layout(t, "i6"), "coil-open@2")
	x := &Exercise{Layout: b.layout, bay: b}
	for line, want := range map[string]string{"swap-coil 2 1": "with the coil of cylinder 1", "swap-coil 2": "with the coil of cylinder 5"} {
		entry, err := x.Order(line)
		if err != nil || !strings.Contains(entry.Answer, want) || !strings.Contains(entry.Answer, "it followed the part") {
			t.Errorf("%s: %q, %v", line, entry.Answer, err)
		}
	}
	for _, line := range []string{"swap-coil 2 2", "swap-coil 2 9", "swap-coil 2 x", "swap-coil"} {
		if entry, err := x.Order(line); err == nil && entry.Answer != "There is no other cylinder to swap with." {
			t.Errorf("%s: %q, want an error", line, entry.Answer)
		}
	}
}
