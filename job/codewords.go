package job

import (
	_ "embed"
	"fmt"
	"strings"
)

// codeWordsFile is "CODE words" a line: common codes of ISO 15031-6 and SAE
// J2012 about engines that run rough, in our own words, numbers from memory
// where public lists do not show them.
//
//go:embed codewords.txt
var codeWordsFile string

var codeTitles = readCodeWords(codeWordsFile)

func readCodeWords(text string) map[string]string {
	out := map[string]string{}
	for line := range strings.Lines(text) {
		if code, words, ok := strings.Cut(strings.TrimSpace(line), " "); ok {
			out[code] = words
		}
	}
	return out
}

// CodeWords says what a trouble code means, as far as the standard gives it one
// meaning for all makers; empty where we do not know it.
func CodeWords(code string) string {
	switch outcome, n := meaning(code); outcome {
	case "named":
		return fmt.Sprintf("misfire at cylinder %d", n)
	case "injector":
		return fmt.Sprintf("injector circuit of cylinder %d", n)
	case "coil":
		return fmt.Sprintf("circuit of coil %c", 'A'+rune(n)-1)
	}
	if words, ok := codeTitles[code]; ok {
		return words
	}
	if ofMaker(code) {
		return "the car maker's own code: its meaning is in the maker's list"
	}
	return ""
}

// CodesWords lists codes with what they mean: "P0303 (misfire at cylinder 3)".
func CodesWords(codes []string) string {
	if len(codes) == 0 {
		return "none stored"
	}
	var out []string
	for _, code := range codes {
		if words := CodeWords(code); words != "" {
			code += " (" + words + ")"
		}
		out = append(out, code)
	}
	return strings.Join(out, ", ")
}

// ofMaker reports whether the car maker gives a code its meaning: P1, P30 to
// P33, and B, C, U with 1 or 2.
func ofMaker(code string) bool {
	switch {
	case len(code) != 5:
		return false
	case code[0] == 'P':
		return code[1] == '1' || code[1] == '3' && code[2] <= '3'
	}
	return code[1] == '1' || code[1] == '2'
}
