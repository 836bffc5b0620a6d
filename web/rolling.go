package web

import (
	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
)

// rollSeconds is when a younger listener takes over: what is judged reaches
// back between once and twice as long.
const rollSeconds = 4.0

// rolling judges the last seconds of a stream without hearing any of them more
// than twice: an older listener speaks, a younger one catches up.
type rolling struct {
	layout     engine.Layout
	rate       float64
	old, young *order.Listener
	samples    int // of the young one
	before     int // that the old one has beyond those
}

// write takes samples. The error says what is wrong with layout or rate.
func (r *rolling) write(x []float32) error {
	if r.old == nil || r.samples > int(rollSeconds*r.rate) {
		fresh, err := order.NewListener(order.Config{Layout: r.layout}, r.rate)
		if err != nil {
			return err
		}
		if r.old, r.young = r.young, fresh; r.old == nil {
			r.old = fresh
			if r.young, err = order.NewListener(order.Config{Layout: r.layout}, r.rate); err != nil {
				return err
			}
		}
		r.before, r.samples = r.samples, 0
	}
	r.old.Write(x)
	r.young.Write(x)
	r.samples += len(x)
	return nil
}

// seconds are what the judgement is over.
func (r *rolling) seconds() float64 { return float64(r.before+r.samples) / r.rate }

func (r *rolling) snapshot() (finding.Finding, error) { return r.old.Snapshot() }

// forget begins anew.
func (r *rolling) forget() { r.old, r.young, r.samples, r.before = nil, nil, 0, 0 }
