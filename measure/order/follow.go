package order

import (
	"math"
	"math/cmplx"
)

// follower follows the phase of the engine cycle through a cut: all phases and
// speeds at once, each with its chance, from the known phase before. At an
// unknown moment around the typed one the second act begins, in which one slot
// is quiet.
type follower struct {
	film   film
	places int
	hz     []float64 // speeds
	pace   float64   // chance to go one speed up or down in a step
	from   float64   // s, the second act may begin
	to     float64   // s, it has begun
	now    []float64 // chance by act, speed and place
	next   []float64
	busy   []int // states with a chance
	spare  []int
	turns  []complex128 // by place: its phase as a turn
	chance [2][]float64 // by act and place, of what is heard
	log    float64
	logs   []float64 // it, by frame
	lowest float64   // mean speed so far
	phases []float64 // mean phase in cycles, by frame
}

const (
	speedStep   = 0.02 // ratio of neighbouring speeds
	speedDrift  = .12  // spread of the speed's logarithm after a second: judgement, a three with one cylinder left loses a third in half a second
	slowestFall = 0.45 // of the speed before
	fastestRise = 1.40
	leastChance = 1e-12
)

// newFollower begins at a known phase and rate.
func newFollower(f film, places int, phase, hz float64) *follower {
	w := &follower{film: f, places: places, lowest: hz}
	for p := range places {
		w.turns = append(w.turns, cmplx.Rect(1, 2*math.Pi*float64(p)/float64(places)))
	}
	best := 0
	for v := hz * slowestFall; v < hz*fastestRise; v *= 1 + speedStep {
		w.hz = append(w.hz, v)
		if v <= hz {
			best = len(w.hz) - 1
		}
	}
	w.pace = min(speedDrift*speedDrift*f.step/speedStep/speedStep/2, 0.4)
	w.now, w.next = make([]float64, 2*len(w.hz)*places), make([]float64, 2*len(w.hz)*places)
	at := best*places + int(phase*float64(places))%places
	w.now[at], w.busy = 1, []int{at}
	return w
}

// step moves every state on by one frame at time t and weighs it by what was
// heard.
func (w *follower) step(t float64) {
	begins := w.begins(t)
	reached := w.spare[:0]
	for _, at := range w.busy {
		x := w.now[at]
		w.now[at] = 0
		place, speed, act := at%w.places, at/w.places%len(w.hz), at/w.places/len(w.hz)
		for d := -1; d <= 1; d++ {
			y := x * w.pace
			if d == 0 {
				y = x * (1 - 2*w.pace)
			}
			v := min(max(speed+d, 0), len(w.hz)-1)
			if act == 0 {
				reached = w.put(reached, 1, v, place, y*begins)
				y *= 1 - begins
			}
			reached = w.put(reached, act, v, place, y)
		}
	}
	w.settle(reached)
}

// begins is the chance that the second act begins with this frame.
func (w *follower) begins(t float64) float64 {
	switch {
	case t < w.from:
		return 0
	case t >= w.to:
		return 1
	}
	return w.film.step / (w.to - t + w.film.step)
}

// put adds a chance to the places a state reaches in one frame.
func (w *follower) put(reached []int, act, speed, place int, x float64) []int {
	if x == 0 {
		return reached
	}
	move := float64(place) + w.hz[speed]*w.film.step*float64(w.places)
	whole := int(move)
	part := move - float64(whole)
	row := (act*len(w.hz) + speed) * w.places
	for i, share := range [2]float64{1 - part, part} {
		at := row + (whole+i)%w.places
		if w.next[at] == 0 {
			reached = append(reached, at)
		}
		w.next[at] += x * share
	}
	return reached
}

// settle weighs the reached states and forgets the hopeless.
func (w *follower) settle(reached []int) {
	var total float64
	for _, at := range reached {
		w.next[at] *= w.chance[at/w.places/len(w.hz)][at%w.places]
		total += w.next[at]
	}
	busy, speed, phase := w.busy[:0], 0.0, complex(0, 0)
	for _, at := range reached {
		if w.next[at] > leastChance*total {
			w.next[at] /= total
			speed += w.next[at] * w.hz[at/w.places%len(w.hz)]
			phase += w.turns[at%w.places] * complex(w.next[at], 0)
			busy = append(busy, at)
		} else {
			w.next[at] = 0
		}
	}
	w.spare, w.busy, w.lowest = reached, busy, min(w.lowest, speed)
	w.now, w.next = w.next, w.now
	w.phases = append(w.phases, cmplx.Phase(phase)/(2*math.Pi))
	w.log += math.Log(max(total, 1e-300))
}
