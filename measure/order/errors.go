package order

import "fmt"

// TooShortError: not enough sound to hear whole engine cycles.
type TooShortError struct{ Seconds, Needed float64 }

func (e *TooShortError) Error() string {
	return fmt.Sprintf("%.2f s of sound is too short: record at least %.0f s, better 20 s", e.Seconds, e.Needed)
}

// SilentError: the samples carry no sound.
type SilentError struct{ RMS float64 }

func (e *SilentError) Error() string {
	return fmt.Sprintf("the recording is silent (level %.1g of full scale): check the microphone and record again", e.RMS)
}

// ClippedError: most of the sound lies at full scale.
type ClippedError struct{ Share float64 }

func (e *ClippedError) Error() string {
	return fmt.Sprintf("%.0f %% of the recording is stuck at full scale: turn the gain down or hold the microphone further away, and record again", e.Share*100)
}

// NoEngineError: no engine cycle repeats in the recording: engine not running,
// speech, or noise louder than the engine.
type NoEngineError struct {
	Score  float64 // how well the best comb of orders fits, in spreads of the spectrum, or how alike the cycles are, in powers of their mean's variance
	Needed float64
}

func (e *NoEngineError) Error() string {
	return fmt.Sprintf("no running engine can be heard (best fit %.1f, needed %.1f): check that it runs, hold the microphone nearer, keep quiet while recording", e.Score, e.Needed)
}
