package web

import (
	"math"

	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
)

// speak says the script's prompts in the room; the last stays on the screen.
func (c *cutRun) speak(prompts []script.Prompt) {
	for _, p := range prompts {
		c.state.Words = p.Text
		c.room.say("say", map[string]any{"words": p.Text, "urgent": p.Urgent})
	}
}

// say puts words on the screen, without speaking them.
func (c *cutRun) say(words string) {
	c.mu.Lock()
	c.state.Words = words
	c.mu.Unlock()
	c.show(true)
}

// show tells how the test stands; without news, as often as can be seen.
func (c *cutRun) show(news bool) {
	c.mu.Lock()
	s := c.state
	s.Budget = c.budget()
	c.mu.Unlock()
	if news {
		c.room.say("cut", s)
		return
	}
	c.room.sayOften("cut", s)
}

// inletC is the gas before the catalyst at idle, as the model has it.
const inletC = 450

// budget is the share of the catalyst's allowed heat that is left.
func (c *cutRun) budget() float64 {
	s := c.books.Ledger.During(c.at(c.now))
	share := 1.0
	for _, rise := range s.RiseK {
		share = min(share, 1-rise/(catalyst.Careful.LimitC-inletC))
	}
	if c.means.Spark() {
		share = min(share, s.SparkLeft/catalyst.Careful.SparkTotal)
	}
	return min(max(share, 0), 1)
}

func meanSince(t, y []float64, from float64) float64 {
	var sum float64
	n := 0
	for i := len(t) - 1; i >= 0 && (t[i] >= from || n == 0); i-- {
		sum += y[i]
		n++
	}
	return sum / math.Max(float64(n), 1)
}

// lowest value since a moment.
func lowest(k cutout.Track, from float64) float64 {
	low := math.Inf(1)
	for i := len(k.T) - 1; i >= 0 && k.T[i] >= from; i-- {
		low = min(low, k.Y[i])
	}
	return low
}
