// Package order listens to an engine: speed, whether a cylinder is missing, how
// much, and in which pattern, from sound or vibration.
//
// A file and a live stream go through the same [Listener]:
//
//	l, err := order.NewListener(order.Config{Layout: layout}, 48000)
//	l.Write(samples)            // mono, pieces of any size
//	f, err := l.Finish()        // or order.Analyse for a whole source
//
// How it hears. A comb over all half orders finds the rate of engine cycles and
// follows it through time; a lock then holds the phase of each cycle. Every
// band of the sound, the low one itself and the loudness of each octave above,
// is folded over the cycles into one firing cycle, cut into one slot per
// firing. A dead cylinder leaves its slot quiet. The bands are weighed by what
// physics allows: below some 500 Hz all cylinders reach the microphone alike
// but a click may spoil it; above, each has its own path, and some of the noise
// is not combustion. No threshold is learnt from recordings.
//
// Without a mark or a cut the finding is anonymous: it can say that one firing
// is missing, or two so many firings apart, not which cylinder they belong to.
// [Config.Cuts] names a known cylinder that was cut for some seconds of the
// recording. All phases and speeds are followed through the cut at once, once
// for each slot of the cycle that may have fallen quiet; the one that explains
// what is heard is the cut cylinder's. What the cut took away is the sound of
// one firing, and least squares then give the share of every cylinder, by the
// loudness of the bands and by the waves of the bass. That settles the verdict
// too where the loudness of the firings alone leaves it open. Where the speed
// fell so deep that the firings cannot be counted through, nobody is named and a
// note says so. [Config.Marked] with [Listener.WriteMark] or [Listener.AddMarks] gives the ignitions of a
// known cylinder. [Named] lists who is named.
//
// [Feel] does the same for the motion of a sensor on the engine, [Feeler] while
// it is still recording. The orders are fitted to the samples' own times by
// least squares, over all axes, so jitter, gaps and doubles do no harm. What is
// judged is the half orders against the firing order: the mounts may carry each
// order as they like, but smoothly; order 1 may be any unbalance and accuses
// nobody. Where the firing order is out of reach of the sample rate, the finding
// says so and what to do.
//
// [Fuse] joins what several sensors found of the same engine at the same time.
package order
