package halforder_test

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

const module = "halforder/"

// floorOf says on which floor a package stands; a test fails for a package that
// has none. Longest prefix wins.
var floorOf = map[string]int{
	"engine": 1, "signal": 1, "finding": 1,
	"measure": 2,
	"reason":  3,
	"job":     4, "practice": 4,
	"store": 5, "reader": 5, "vehicle": 5, "report": 5, "web": 5,
	"cmd": 6, "tools": 6,
}

// sameFloor lists the imports allowed within a floor.
var sameFloor = map[string][]string{
	"measure/cutout": {"measure/order", "measure/crank", "measure/catalyst"},
	"reason/belief":  {"reason/fault"},
	"reason/plan":    {"reason/belief", "reason/fault"},
	"web":            {"report"},
	// engines simulated for a tool and for the tests of an analysis
	"tools/cutoutcheck": {"tools/idlesim"},
	"tools/crankscore":  {"tools/roughroad"},
	"tools/crankrace":   {"tools/race"},
	"tools/soundrace":   {"tools/race"},
}

// narrower lists packages that may see less than the floors below them.
var narrower = map[string][]string{
	"practice": {"engine"}, // it judges the analyses, so it must not know them
}

func TestFloors(t *testing.T) {
	for _, p := range listPackages(t) {
		from, ours := strings.CutPrefix(p.ImportPath, module)
		if !ours {
			continue
		}
		if floor(from) == 0 {
			t.Errorf("%s stands on no floor: name it in floors_test.go", from)
		}
		for _, imported := range p.Imports {
			if to, ours := strings.CutPrefix(imported, module); ours {
				checkImport(t, from, to)
			}
		}
	}
}

func checkImport(t *testing.T, from, to string) {
	t.Helper()
	switch {
	case within(from, to):
	case !allowedView(from, to):
		t.Errorf("%s imports %s: it may see only %v", from, to, narrower[top(from)])
	case floor(to) > floor(from):
		t.Errorf("%s (floor %d) imports %s (floor %d) above it", from, floor(from), to, floor(to))
	case floor(to) == floor(from) && floor(from) > 1 && !slices.Contains(sameFloor[from], to):
		t.Errorf("%s imports %s on its own floor %d", from, to, floor(from))
	case floor(to) == floor(from) && floor(from) == 1 && to != "engine":
		t.Errorf("%s imports %s: on the ground floor only engine is shared", from, to)
	}
}

// within reports whether both packages belong to one room of the house.
func within(from, to string) bool {
	return strings.HasPrefix(to, from+"/") || strings.HasPrefix(from, to+"/")
}

func allowedView(from, to string) bool {
	allowed, narrow := narrower[top(from)]
	return !narrow || slices.Contains(allowed, to) || top(from) == top(to)
}

func top(path string) string {
	head, _, _ := strings.Cut(path, "/")
	return head
}

func floor(path string) int { return floorOf[top(path)] }

type goPackage struct {
	ImportPath string
	Imports    []string
}

func listPackages(t *testing.T) []goPackage {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "./...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var packages []goPackage
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p goPackage
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if p.ImportPath != strings.TrimSuffix(module, "/") {
			packages = append(packages, p)
		}
	}
	if len(packages) == 0 {
		t.Fatal("go list found no packages: the check would prove nothing")
	}
	return packages
}
