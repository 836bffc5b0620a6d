package job

import (
	"strings"
	"testing"
)

func TestNumberingIsConfirmedByLooking(t *testing.T) {
	if fold(t).NumberingConfirmed() {
		t.Error("confirmed before anybody looked")
	}
	if !fold(t, &Numbered{layout(t, "i6")}).NumberingConfirmed() {
		t.Error("not confirmed after somebody looked")
	}
}

func TestNumberingCorrectsTheEngineBeforeAnythingIsMeasured(t *testing.T) {
	other := layout(t, "1-4-2-6-3-5")
	c := fold(t, &Numbered{other})
	if c.Layout().String() != other.String() || !c.NumberingConfirmed() {
		t.Errorf("engine %v", c.Layout())
	}
	swap := &Swapped{Part: "coil", A: 1, B: 3}
	for want, bodies := range map[string][]Body{
		"undo it first": {swap, &Numbered{other}}, "6 cylinders": {&Numbered{layout(t, "i4")}}, "which engine": {&Numbered{}}} {
		_, err := Fold(1, events(t, bodies...))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}
