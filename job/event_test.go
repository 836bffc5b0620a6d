package job

import (
	"errors"
	"reflect"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/catalyst"
)

// oneOfEach has a body of every kind, filled.
func oneOfEach(t testing.TB) []Body {
	return []Body{opened(t),
		&Recorded{SHA256: "ab", Bytes: 9, Name: "idle.wav", Sensor: "sound", RateHz: 44100},
		&Found{SHA256: "ab", Finding: finding.Finding{Verdict: finding.Misfire, Likelihood: &finding.Likelihood{
			Anonymous: true, Log: map[finding.Pattern]float64{".....d": 0}, Else: -9}}},
		&Entered{Check: "compression", Results: []Result{{1, "low", []Value{{7.5, "bar"}}}}},
		&Swapped{Part: "coil", A: 3, B: 5}, &SwapWatched{Swap: 2, Outcome: "follows", AfterS: 30},
		&Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G", Cash: 6400}, &Proved{Proven: true, Confidence: 0.95},
		&Coded{Codes: []string{"P0303"}}, &CodesCleared{}, &Agreed{Who: "Mr Oduya", Limit: 20000},
		&Noted{Text: "oil in well"}, &Undone{Seq: 2}, &Closed{Cause: "coil"}, &Numbered{layout(t, "i6")},
		&Heated{catalyst.Careful, []catalyst.Step{{At: moment, Condition: catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{5}}}}}}
}

func TestEveryKindReadsBack(t *testing.T) {
	seen := map[string]bool{}
	for _, body := range oneOfEach(t) {
		want := Event{Seq: 3, At: moment, By: "Ines", Body: body}
		data, err := EncodeEvent(want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := DecodeEvent(data)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s became %+v, want %+v", data, got, want)
		}
		seen[body.kind()] = true
	}
	for kind := range bodies {
		if !seen[kind] {
			t.Errorf("kind %q is not tried", kind)
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	for _, text := range []string{"", "{", "null", "[]", `{"kind":"noted"}`, `{"kind":"noted","body":{"text":"x","mood":"bad"}}`,
		`{"kind":"noted","body":{"text":"x"}} {}`, `{"kind":"opened","body":{"engine":"v9"}}`, `{"kind":"entered","body":{"results":[{"values":[{"number":"NaN"}]}]}}`} {
		if e, err := DecodeEvent([]byte(text)); err == nil {
			t.Errorf("%q was read as %+v", text, e)
		}
	}
	if _, err := DecodeEvent([]byte(`{"kind":"teleported","body":{}}`)); !errors.Is(err, ErrUnknownKind) {
		t.Errorf("an unknown kind: %v, want ErrUnknownKind", err)
	}
}

func FuzzDecodeEvent(f *testing.F) {
	for _, body := range oneOfEach(f) {
		data, err := EncodeEvent(Event{Seq: 2, At: moment, Body: body})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	first := Event{Seq: 1, At: moment, Body: opened(f)}
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := DecodeEvent(data)
		if err != nil {
			return
		}
		again, err := EncodeEvent(e)
		if err != nil {
			t.Fatalf("decoded but cannot be encoded: %v", err)
		}
		back, err := DecodeEvent(again)
		if err != nil {
			t.Fatalf("%s became %s: %v", data, again, err)
		}
		if third, _ := EncodeEvent(back); string(third) != string(again) {
			t.Fatalf("%s became %s", again, third)
		}
		e.Seq = 2
		_, _ = Fold(1, []Event{first, e}) // must not panic, whatever it says
	})
}
