package cutout

import (
	"encoding/json"

	"halforder/engine"
)

// Estimate is a number with the standard deviation of its error.
type Estimate struct {
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
}

// MarshalJSON writes what was not measured as null: JSON knows no infinity.
func (e Estimate) MarshalJSON() ([]byte, error) {
	if !finite(e.Value) || !finite(e.Sigma) {
		return []byte(`{"value":null,"sigma":null}`), nil
	}
	type plain Estimate
	return json.Marshal(plain(e))
}

// Cut is one cut as it was found in the recording.
type Cut struct {
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"` // as called; none: nobody said
	Start     float64           `json:"start"`               // s
	End       float64           `json:"end"`                 // s
	Seen      bool              `json:"seen"`                // the recording shows the beginning; else it is where the mark says
	EndSeen   bool              `json:"end_seen"`
	Unsure    bool              `json:"unsure,omitempty"`    // nobody confirmed that anything was taken off
	Stalled   bool              `json:"stalled,omitempty"`   // the engine stopped
	Disturbed bool              `json:"disturbed,omitempty"` // beginning and end disagree: something else happened too

	Drop   Estimate  `json:"drop_rpm"`         // early drop when it began, rpm
	Rise   Estimate  `json:"rise_rpm"`         // early rise when it ended, rpm
	Effort *Estimate `json:"effort,omitempty"` // steady change of the best effort
	Rough  *Estimate `json:"rough,omitempty"`  // change of roughness
	Loss   *Estimate `json:"loss,omitempty"`   // what the cylinder's firings lost of the cycle, 1: what healthy ones do

	beside float64 // what other firings lost, beside what the load shifts to them; below 0: one woke up

	found int     // number of the cut found by searching, from 1 on; 0: none
	speed *spread // what the speed says when the place is not sure
}

func (c Cut) length() float64 { return c.End - c.Start }
