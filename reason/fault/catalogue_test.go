package fault_test

import (
	"testing"

	"halforder/reason/fault"
)

func TestDefaultCatalogue(t *testing.T) {
	c, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(c.Causes()); n < 25 {
		t.Errorf("%d causes, at least 25 wanted", n)
	}
	if n := len(c.Checks()); n < 30 {
		t.Errorf("%d checks, at least 30 wanted", n)
	}
}
