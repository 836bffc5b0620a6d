package order

import "slices"

// clone copies what a further step would change. Scratch space and plans stay
// shared: a clone and its original must not work at the same time.
func (l *Listener) clone() *Listener {
	c := *l
	c.frozen = true
	t := *l.tracker
	t.total, t.next = slices.Clone(t.total), slices.Clone(t.next)
	t.back = slices.Clip(t.back)
	c.tracker = &t
	k := *l.lock
	k.template, k.noise = slices.Clone(k.template), slices.Clone(k.noise)
	c.lock = &k
	c.scores, c.speeds = slices.Clone(l.scores), slices.Clone(l.speeds)
	c.heard.cycles, c.heard.judged = slices.Clip(l.heard.cycles), slices.Clip(l.heard.judged)
	c.heard.tape = l.heard.tape.clip()
	c.heard.kept = slices.Clip(l.heard.kept)
	c.heard.reels = slices.Clone(l.heard.reels)
	for i := range c.heard.reels {
		c.heard.reels[i] = c.heard.reels[i].clone()
	}
	c.heard.speeds = l.heard.speeds.clone()
	return &c
}
