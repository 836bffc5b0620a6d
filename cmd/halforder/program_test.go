package main

import (
	"slices"
	"testing"
)

func TestNegativeNumbersAreNoFlags(t *testing.T) {
	for _, c := range []struct{ args, want []string }{
		{[]string{"job", "enter", "trims", "-12%/-3%"}, []string{"job", "enter", "trims", "−12%/-3%"}},
		{[]string{"practice", "run", "--coolant", "-5", "dir"}, []string{"practice", "run", "--coolant=-5", "dir"}},
		{[]string{"--coolant=-5", "-j", "3", "-x", "-", "--"}, []string{"--coolant=-5", "-j", "3", "-x", "-", "--"}},
		{[]string{"-3"}, []string{"-3"}},
		{nil, nil},
	} {
		if got := negatives(c.args); !slices.Equal(got, c.want) {
			t.Errorf("%q becomes %q, want %q", c.args, got, c.want)
		}
	}
}

// A control character in a name would steer the terminal of whoever reads it.
func TestNamesCannotSteerATerminal(t *testing.T) {
	got := printable([]string{"job", "open", "Tarn\x1b[31m Corvid\n\u009bX 車"})
	if want := "Tarn [31m Corvid  X 車"; got[2] != want {
		t.Errorf("%q, want %q", got[2], want)
	}
}
