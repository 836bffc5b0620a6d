package main

import (
	"fmt"
	"strings"

	"halforder/engine"
	"halforder/practice"
)

// truth is a fault as what mends it: the practice action and its cylinder, 0 where
// several share it.
type truth struct {
	words  string
	action string
	at     engine.Cylinder
}

func (a truth) same(b truth) bool { return a.action == b.action && (b.at == 0 || a.at == b.at) }

// readTruth reads the words in which a practice car says what was wrong with it.
func readTruth(words string) truth {
	t := truth{words: words}
	title, at, _ := strings.Cut(words, " at cylinder ")
	fmt.Sscan(at, &t.at) // no number: the whole engine
	for _, k := range practice.Kinds() {
		if k.Title == title {
			t.action = actionFor(k)
		}
	}
	return t
}

func actionFor(k practice.Kind) string {
	switch k.Site {
	case practice.AtCoil, practice.AtPlug, practice.AtBoot, practice.AtInjector:
		return "renew " + string(k.Site)
	}
	return "mend " + k.Name
}
