package cutout

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"halforder/signal"
)

// looks are half a cycle apart, each over two halves, whose values move by shift
// standard deviations between ten and fourteen seconds.
func looks(seed uint64, shift float64) (c Cycles) {
	rng := rand.New(rand.NewPCG(seed, 1))
	before := make([]float64, 24)
	for at := 0.0; at < 30; at += 0.08 {
		half, x := make([]float64, 24), make([]float64, 24)
		for i := range half {
			half[i] = rng.NormFloat64()
			if at > 10 && at < 14 {
				half[i] += shift * float64(i%3-1)
			}
			x[i] = before[i] + half[i]
		}
		before = half
		c.T, c.X = append(c.T, at-0.04), append(c.X, x)
	}
	return c
}

// The speed has both ends four tenths of a second off.
func TestCyclesPlaceTheEndsOfCuts(t *testing.T) {
	far := 0
	for seed := range uint64(50) {
		cuts := []Cut{{Start: 10.4, End: 13.6, Seen: true, EndSeen: true}}
		looks(seed, 1).place(cuts)
		for _, off := range []float64{cuts[0].Start - 10, cuts[0].End - 14} {
			if math.Abs(off) > 0.2 {
				far++
			}
			if math.Abs(off) > 0.35 {
				t.Errorf("seed %d: an end is off by %.2f s", seed, off)
			}
		}
	}
	if far > 10 {
		t.Errorf("%d of 100 ends are off by more than 0.2 s", far)
	}
}

// Cycles that a cut does not change leave its ends alone.
func TestCyclesWithoutAChangeMoveNothing(t *testing.T) {
	moved := 0
	for seed := range uint64(50) {
		cuts := []Cut{{Start: 10.4, End: 13.6, Seen: true, EndSeen: true}}
		if looks(seed, 0).place(cuts); cuts[0].Start != 10.4 || cuts[0].End != 13.6 {
			moved++
		}
	}
	if moved > 2 {
		t.Errorf("%d of 50 cuts were moved by noise", moved)
	}
}

func TestCyclesAreChecked(t *testing.T) {
	for name, c := range map[string]Cycles{
		"fewer values": {T: []float64{1, 2}, X: [][]float64{{1}}},
		"ragged":       {T: []float64{1, 2}, X: [][]float64{{1}, {1, 2}}},
		"no number":    {T: []float64{1, 2}, X: [][]float64{{1}, {math.NaN()}}},
		"backwards":    {T: []float64{2, 1}, X: [][]float64{{1}, {1}}},
	} {
		if c.check() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// Four pulses a cycle at 750 rpm that fall within half a second, some of the four
// missing from then on: the lines of the cycle beside the firing order stand out,
// and the speed must not climb onto them. With two neighbours missing the fifth
// line is as strong as the fourth.
func TestLinesFollowADropWithMissingCylinders(t *testing.T) {
	for _, c := range []struct {
		missing string
		fall    float64 // rpm
	}{{"1", 150}, {"12", 200}, {"13", 200}} {
		const rate = 1000
		truth := func(at float64) float64 { return 750 - c.fall*min(max((at-10)/0.5, 0), 1) }
		row := make([]float32, 20*rate)
		rng := rand.New(rand.NewPCG(3, 3))
		phase := 0.0
		for i := range row {
			before := int(phase * 4)
			phase += truth(float64(i)/rate) / 120 / rate
			row[i] = float32(0.1 * rng.NormFloat64())
			now := int(phase * 4)
			if now != before && (i < 10*rate || !strings.Contains(c.missing, strconv.Itoa(now%4))) {
				row[i] += 3
			}
		}
		frames := signal.Frames{Rate: rate, Bands: []signal.Band{{HighHz: 500}}, Rows: [][]float32{row}}
		got := newLineScan(frames, 4, 750).speed()
		for i, at := range got.T {
			if want := truth(at); math.Abs(got.Y[i]/want-1) > 0.05 {
				t.Errorf("%s missing: at %.2f s %.0f rpm, want %.0f within 5 %%", c.missing, at, got.Y[i], want)
				break
			}
		}
	}
}

// Four unlike pulses a cycle at 750 rpm, followed with a speed a third of a percent
// too high, so that the phase runs a tenth of a cycle off within thirty cycles: the
// cycles still lie on each other, and a missing pulse is placed to a tenth of a
// second.
func TestCyclesKeepTheirPhase(t *testing.T) {
	const rate = 1000
	rng := rand.New(rand.NewPCG(4, 4))
	row := make([]float32, 40*rate)
	for i := range row {
		row[i] = float32(0.3 * rng.NormFloat64())
		at := float64(i) / rate
		phase := at * 6.25 * 4
		if now := int(phase); now != int(phase-25.0/rate) && !(now%4 == 2 && at > 20 && at < 24) {
			row[i] += float32(2 + 0.3*float64(now%4))
		}
	}
	frames := signal.Frames{Rate: rate, Bands: []signal.Band{{HighHz: 500}}, Rows: [][]float32{row}}
	c := cyclesOf(frames, 4, Track{T: []float64{0, 40}, Y: []float64{752.5, 752.5}})
	early, late := meansOf(c.between(4, 10)), meansOf(c.between(30, 36))
	var apart, size float64
	for i := range early {
		apart += (early[i] - late[i]) * (early[i] - late[i])
		size += early[i] * early[i]
	}
	if apart > 0.1*size {
		t.Errorf("early and late cycles differ by %.2f of what they are", math.Sqrt(apart/size))
	}
	cuts := []Cut{{Start: 20.4, End: 23.7}}
	c.place(cuts)
	if math.Abs(cuts[0].Start-20) > 0.1 || math.Abs(cuts[0].End-24) > 0.1 || !cuts[0].Seen || !cuts[0].EndSeen {
		t.Errorf("the pulse was missing at 20–24 s, found %.2f–%.2f s, seen %v %v", cuts[0].Start, cuts[0].End, cuts[0].Seen, cuts[0].EndSeen)
	}
}
