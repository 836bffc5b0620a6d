package crank

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"halforder/engine"
)

// Origin says from where a Reference is counted.
type Origin string

// The origins.
const (
	// FromCam counts from the cam reference edge: the first cam edge after the
	// longest quiet stretch of the cycle; on numbered edges from number 0.
	FromCam Origin = "cam"
	// FromGap counts from the first mark after the (largest) gap of the wheel, or
	// mark 0 of a wheel given by angles. It cannot tell the two turns apart.
	FromGap Origin = "gap"
)

// Reference ties the wheel to the engine: cylinder C has its firing top dead
// centre Deg crank degrees after the origin.
type Reference struct {
	Cylinder engine.Cylinder
	Deg      float64
	Origin   Origin
}

// ParseReference reads "CYL:DEG", such as 1:114 or 2:-20.
func ParseReference(text string, from Origin) (Reference, error) {
	cyl, deg, ok := strings.Cut(text, ":")
	c, err1 := strconv.Atoi(strings.TrimSpace(cyl))
	d, err2 := strconv.ParseFloat(strings.TrimSpace(deg), 64)
	if !ok || err1 != nil || err2 != nil || c < 1 || math.Abs(d) > cycleDeg || math.IsNaN(d) {
		return Reference{}, fmt.Errorf("reference %q: expected CYLINDER:DEGREES, such as 1:114 when cylinder 1 is at firing top dead centre 114 crank degrees after the %s", text, from)
	}
	return Reference{engine.Cylinder(c), d, from}, nil
}

// naming says how far firing positions can be called by cylinder numbers.
type naming int

const (
	anonymous naming = iota // the pattern only
	halfNamed               // one of two cylinders a turn apart
	named
)

// anchors are the references that count: of several from one origin the last.
func anchors(c *clock, refs []Reference) (cam, gap *Reference) {
	for i := range refs {
		switch r := &refs[i]; {
		case r.Origin == FromCam && c.hasRef:
			cam = r
		case r.Origin == FromGap:
			gap = r
		}
	}
	return cam, gap
}

// place finds the angle of the first firing of the layout's order in the
// cycle, by the references given, and how well that names the firings.
func place(c *clock, l engine.Layout, refs []Reference, guess float64, guessed bool) (zero float64, how naming) {
	cam, gap := anchors(c, refs)
	switch {
	case cam != nil && gap != nil:
		want := c.byCam(l, cam)
		zero = c.byGap(l, gap)
		if math.Abs(math.Remainder(want-zero, cycleDeg)) > turnDeg/2 {
			zero += turnDeg
		}
		return wrapCycle(zero), named
	case cam != nil:
		return wrapCycle(c.byCam(l, cam)), named
	case gap != nil:
		return placeByGap(c, l, gap, guess, guessed)
	}
	return guess, anonymous
}

// byCam and byGap are where a reference puts the first firing of the order.
func (c *clock) byCam(l engine.Layout, r *Reference) float64 {
	return c.camRef + r.Deg - float64(l.Angle(r.Cylinder))
}

func (c *clock) byGap(l engine.Layout, r *Reference) float64 {
	return -c.fromGap + r.Deg - float64(l.Angle(r.Cylinder))
}

// placeByGap knows the firings up to a whole turn. An odd number of cylinders
// fires at different angles in the two turns, which settles it.
func placeByGap(c *clock, l engine.Layout, gap *Reference, guess float64, guessed bool) (float64, naming) {
	zero := wrapCycle(c.byGap(l, gap))
	if l.N()%2 == 0 || !l.Even() || !guessed {
		return zero, halfNamed
	}
	interval := cycleDeg / float64(l.N())
	off := func(z float64) float64 { return math.Abs(math.Remainder(z-guess, interval)) }
	if off(zero+turnDeg) < off(zero) {
		zero = wrapCycle(zero + turnDeg)
	}
	return zero, named
}

// mostOff is how far, in degrees, top dead centres that a reference gives may lie from
// where the crank is slowed by compressions. Over simulated engines of three to eight
// cylinders true references were at most 32° off.
const mostOff = 40

// disagree says in words that the two references given cannot both be right, empty
// where they can.
func disagree(c *clock, l engine.Layout, refs []Reference) string {
	cam, gap := anchors(c, refs)
	if cam == nil || gap == nil {
		return ""
	}
	off := math.Abs(math.Remainder(c.byCam(l, cam)-c.byGap(l, gap), turnDeg))
	if off <= mostOff {
		return ""
	}
	return fmt.Sprintf("The references contradict each other by %.0f°: %s, and %s. Until one is mended no cylinder is named.", off, cam.words(), gap.words())
}

// contradicts says in words where references put the compressions of an evenly firing
// engine elsewhere than the crank has them, empty where they agree or nobody can tell.
// Weighed at a wrong place sound cylinders would look dead.
func contradicts(c *clock, refs []Reference, l engine.Layout, zero, guess float64) string {
	off := math.Remainder(guess-zero, cycleDeg/float64(l.N()))
	if !l.Even() || math.Abs(off) <= mostOff {
		return ""
	}
	return contradiction(c, refs, "has its compressions", off)
}

// contradiction says what the crank has by so many degrees elsewhere than the
// reference that placed the firings, empty without one.
func contradiction(c *clock, refs []Reference, has string, off float64) string {
	r, gap := anchors(c, refs)
	if gap != nil {
		r = gap
	}
	if r == nil {
		return ""
	}
	where := "later"
	if off < 0 {
		where = "earlier"
	}
	return fmt.Sprintf("%s, but the crank %s %.0f° %s, or that and some firings more: check the angle and from which edge it counts. Until then no cylinder is named.",
		r.words(), has, math.Abs(off), where)
}

func (r *Reference) words() string {
	return fmt.Sprintf("Cylinder %d is said to be at top dead centre %g° after the %s", r.Cylinder, r.Deg, r.Origin.words())
}

func (o Origin) words() string {
	if o == FromGap {
		return "gap of the wheel"
	}
	return "cam's reference edge"
}
