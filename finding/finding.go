// Package finding is the common language of the measurements: what an analysis
// says of a recording, in numbers with intervals, plain sentences, series to
// draw, and a likelihood over the cylinders' states.
//
// A finding never carries a bare verdict. An analysis that cannot tell says so
// in Verdict and leaves its likelihood flat.
package finding

// Finding is the outcome of one analysis of one recording or reading.
type Finding struct {
	Analysis   string      `json:"analysis"` // which analysis and its version, "order/1"
	Verdict    Verdict     `json:"verdict"`
	Sentence   string      `json:"sentence"` // one plain sentence for the technician
	Notes      []string    `json:"notes,omitempty"`
	Quantities []Quantity  `json:"quantities"`
	Series     []Series    `json:"series,omitempty"`
	Likelihood *Likelihood `json:"likelihood,omitempty"` // nil: says nothing of cylinders
}

// Verdict answers "is a cylinder missing?".
type Verdict string

// The three answers.
const (
	Misfire    Verdict = "misfire"
	NoMisfire  Verdict = "no misfire"
	CannotTell Verdict = "cannot tell"
)

// ChanceOfMisfire names the quantity that says how likely a misfire is, at even
// chances before the measurement. Not every analysis gives it.
const ChanceOfMisfire = "chance of a misfire"

// Quantity is a measured number. Low and High bound it at Confidence (0 to 1);
// all three are in Unit. Empty Unit is a plain ratio.
type Quantity struct {
	Name       string  `json:"name"`
	Unit       string  `json:"unit,omitempty"`
	Value      float64 `json:"value"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Confidence float64 `json:"confidence"`
}

// Quantity finds a quantity by name.
func (f Finding) Quantity(name string) (Quantity, bool) {
	for _, q := range f.Quantities {
		if q.Name == name {
			return q, true
		}
	}
	return Quantity{}, false
}

// Shape says how a series wants to be drawn.
type Shape string

// The shapes a plot knows.
const (
	Line Shape = "line"
	Bars Shape = "bars"
)

// Series is something to draw: Y against X, same length, with optional bounds
// Low and High of that length, labels for the X places (bars), and marks. Note
// says in words what the labels or marks mean.
type Series struct {
	Title  string    `json:"title"`
	Note   string    `json:"note,omitempty"`
	Shape  Shape     `json:"shape"`
	XName  string    `json:"x_name"`
	XUnit  string    `json:"x_unit,omitempty"`
	YName  string    `json:"y_name"`
	YUnit  string    `json:"y_unit,omitempty"`
	X      []float64 `json:"x"`
	Y      []float64 `json:"y"`
	Low    []float64 `json:"low,omitempty"`
	High   []float64 `json:"high,omitempty"`
	Labels []string  `json:"labels,omitempty"`
	Marks  []Mark    `json:"marks,omitempty"`
}

// Mark is a place on the X axis worth a line of its own, such as a firing.
type Mark struct {
	X     float64 `json:"x"`
	Label string  `json:"label"`
}
