package job

import (
	"testing"

	"halforder/reason/fault"
)

// A cause teaches later jobs only when the repair was proven, on a car that
// exists: the one named, else the one all but sure.
func TestWhatAClosedJobTeaches(t *testing.T) {
	cat := catalogue(t)
	proven := append(worked(), &Proved{Regime: fault.Idle, WatchedS: 600, Proven: true, Confidence: 0.99})
	for _, x := range []struct {
		name, cause, want string
		practice          bool
		bodies            []Body
	}{
		{"proven", "the coil of 3", "coil", false, proven},
		{"another cause named", "coil-driver", "coil-driver", false, proven},
		{"not proven", "coil", "", false, worked()},
		{"practice", "coil", "", true, proven},
		{"nothing measured", "", "", false, nil},
	} {
		c := fold(t, x.bodies...)
		c.Opened.Practice = x.practice
		b, err := c.Belief(cat)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Close(cat, b, x.cause, "").Code; got != x.want {
			t.Errorf("%s: teaches %q, want %q", x.name, got, x.want)
		}
	}
}

// The parts under the cover that is off are within its reach; a part that was
// renewed, or that serves the cylinder itself, is no other.
func TestOthersWithinReach(t *testing.T) {
	cat := catalogue(t)
	c := fold(t, &Repaired{Part: fault.Coil, Cylinder: 2, NewPart: "coil G"})
	a, err := c.Others(cat, OthersQuestion{Kind: fault.Coil, At: 5, Horizon: 20000})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Reach) != 4 || a.Reach[0] != 1 || a.Reach[1] != 3 {
		t.Errorf("reach %v, want 1, 3, 4, 6", a.Reach)
	}
	if a.Known || a.Set == nil || a.Set.BreakEven <= 0 {
		t.Errorf("without a record: %+v, want the break-even alone", a)
	}
}
