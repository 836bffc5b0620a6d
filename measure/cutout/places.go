package cutout

import "math"

// placeStep is how finely beginnings and ends of cuts are told apart when they
// are looked for by their schedule, s.
const placeStep = 0.2

// trace says at every place how well the answer to a cut that begins there fits
// one track, in standard deviations of its noise; NaN where the track has no
// samples. A cut that ends there counts as negative.
type trace struct {
	z          []float64
	begin, end float64   // of a healthy cylinder's cut; learnt
	echo       []float64 // by distance in places: what of one answer shows in another, −1 to 1
}

// trace of a track that answers like s, at n places from a time on.
func (m *model) trace(s shape, from float64, n int) trace {
	const fractions = 4
	var templates [fractions]template
	for f := range templates {
		templates[f] = m.templateLate(s, m.step*float64(f)/fractions)
	}
	noise := robustSigma(m.white)
	out := trace{z: make([]float64, n)}
	for i := range out.z {
		cell := (from + float64(i)*placeStep - m.start) / m.step
		k := int(math.Floor(cell))
		f := min(int((cell-float64(k))*fractions), fractions-1)
		out.z[i] = math.NaN()
		if k >= 0 && k < len(m.mask) && !math.IsNaN(m.mask[k]) {
			out.z[i] = templates[f].match(m.white, k) / noise
		}
	}
	out.echo = templates[0].echo(m.step)
	return out
}

// echo is the correlation of the template with itself some places later.
func (t template) echo(step float64) []float64 {
	var out []float64
	for d := 0; ; d++ {
		lag := int(math.Round(float64(d) * placeStep / step))
		if lag >= len(t.x) {
			return out
		}
		var sum float64
		for k := lag; k < len(t.x); k++ {
			sum += t.x[k] * t.x[k-lag]
		}
		out = append(out, sum/t.norm)
	}
}

// overlap corrects for beginning and end d places apart: where each takes from
// the other, a single change looks like both.
func (t trace) overlap(d int, share float64) float64 {
	if d >= len(t.echo) || t.echo[d] >= 0 {
		return 1
	}
	return math.Exp(share * share * math.Abs(t.begin*t.end) * t.echo[d])
}

// strengthOf an answer of amplitude 1 in a trace.
func (m *model) strengthOf(s shape) float64 {
	return math.Sqrt(m.template(s).norm) / robustSigma(m.white)
}

// Something else than a cut may begin at a place, or disturb the cut that does.
const (
	placeDisturbed = 0.03
	placeMismatch  = 0.15 // of an answer by its assumed form, share of it
	leastWide      = 6.0
)

// ratio is how much likelier z is when a cut took `share` of a healthy cylinder
// whose effect is healthy, than when no cut began there.
func ratio(z, share, healthy float64) float64 {
	effect := share * healthy
	if math.IsNaN(z) || effect == 0 {
		return 1
	}
	wide := math.Max(leastWide, 1.5*math.Abs(healthy))
	with := (1-placeDisturbed)*normal(z-effect, 1+effect*effect*placeMismatch*placeMismatch) + placeDisturbed*normal(z-effect, wide*wide)
	none := (1-placeDisturbed)*normal(z, 1) + placeDisturbed*normal(z, wide*wide)
	return math.Max(with, 1e-30) / math.Max(none, 1e-30)
}
