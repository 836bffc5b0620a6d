package order

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/finding"
)

// Idle speeds of car engines, cold fast idle included. Common practice, no
// source.
const (
	slowestIdle = engine.RPM(450)
	fastestIdle = engine.RPM(1400)
	usualIdle   = engine.RPM(800)
	steadyShare = 0.06 // a speed that varies less is held or idling
)

// commonRates are sample rates that recorders use, in hertz.
var commonRates = []float64{8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000}

func (h *heard) addNotes(f *finding.Finding) {
	if share := h.level.clipped(); share > clippedNote {
		f.Notes = append(f.Notes, fmt.Sprintf("%.1f %% of the samples are stuck at full scale: turn the gain down or go further away", 100*share))
	}
	if note := h.rateNote(); note != "" {
		f.Notes = append(f.Notes, note)
	}
	if h.faster > 1 && f.Verdict == finding.NoMisfire {
		f.Notes = append(f.Notes, fmt.Sprintf("at %.0f rpm with half of the cylinders gone or more it would sound the same: if it ran that fast, give the speed", h.total.speed()*engine.RPM(h.faster)))
	}
	if f.Verdict == finding.Misfire && f.Likelihood.Anonymous {
		f.Notes = append(f.Notes, "which cylinder it is needs a mark: cut one cylinder while recording, or record an ignition pulse with it")
	}
}

// rateNote speaks up when the speed is steady and no engine idles there.
func (h *heard) rateNote() string {
	n := float64(h.total.cycles)
	mean := h.total.hz / n
	speed := engine.FromCycleHz(mean)
	spread := math.Sqrt(max(h.total.square/n-mean*mean, 0)) / mean
	if speed >= slowestIdle && speed <= fastestIdle || spread > steadyShare {
		return ""
	}
	hint := ""
	if rate := h.likelyRate(speed); rate > 0 {
		hint = fmt.Sprintf(", for example --rate %.0f, which makes it %.0f rpm", rate, float64(speed)*rate/h.level.rate)
	}
	return fmt.Sprintf("no engine idles at %.0f rpm: if it was idling, the header's sample rate (%.0f Hz) is wrong; correct it with --rate%s", speed, h.level.rate, hint)
}

// likelyRate is the common rate that brings the speed nearest to a usual idle.
func (h *heard) likelyRate(speed engine.RPM) float64 {
	best, bestOff := 0.0, math.Inf(1)
	for _, r := range commonRates {
		n := speed * engine.RPM(r/h.level.rate)
		off := math.Abs(math.Log(float64(n / usualIdle)))
		if n >= slowestIdle && n <= fastestIdle && off < bestOff {
			best, bestOff = r, off
		}
	}
	return best
}
