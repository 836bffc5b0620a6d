// Package cutout measures the cut-out test: one cylinder at a time is taken
// away, and what the engine loses says what that cylinder did.
//
// # Reading a test
//
//	rec := cutout.Recording{Layout: layout, Speed: speed, Marks: marks}
//	result, err := cutout.Analyse(rec)
//	fmt.Println(result.Sentence())
//	f := result.Finding() // numbers, pictures, likelihood over joint patterns
//
// A Recording holds engine speed at 2–50 samples a second and whatever else was
// recorded: what the idle control did (air, throttle, timing), roughness. Speed
// comes from a bus, from crank marks ([FromCrank]) or from sound ([FromSound]).
// [Mark]s are presses of a button, a second or two off; without them cuts are
// searched for and named by the order they were called in, every way of naming
// them weighed by the rhythm and by what came out.
//
// # How it measures
//
// Idle control hides a drop within a second. The answer of speed to a cut is
// therefore fitted as a whole: a family of answers of a flywheel under
// proportional and integral control, and a noise model learnt from the record,
// so that the random differences between firings, which shake the speed through
// the same flywheel, count for what they are. All cuts, both ends of each, and
// all other changes of load (fans, compressors) are fitted at once; drift is
// taken out of data and answers alike. The amplitude is the early drop, the mean
// from 0.3 to 0.8 s. Levels (air, timing, roughness) are compared with the
// stretches beside the cut; their noise is that of the same comparison where
// nothing was cut. Stretches of constant level are found exactly
// (package changepoint).
//
// Where the cycles were recorded too, by crank marks, sound or motion, what the cut
// firing lost is read from their harmonics: every firing leaves the same in the
// cycle, turned by its angle, and the load stays, so that the others share what the
// cut one did. This does not see the idle control, and what a weak neighbour that
// wakes up does is told apart. Motion, which mounts colour by the speed, counts less
// where the engine turns slower than beside the cut.
//
// Cuts without a button are looked for as a fall and the rise that ends it, one
// after the other, refitting all. Called ones are then named by order and rhythm in
// every likely way; a cut that nobody saw keeps its place in the rhythm, and what
// the speed says of it is summed over all places it may have there. Which end of a test
// was not seen shows in how long was recorded before and after it. Ends of cuts by
// sound, motion and crank marks are where the cycles change. The times of cuts are
// those of the hand: an injector's connector moves three quarters of a cycle before
// the engine answers.
//
// # How it judges
//
// Every joint pattern of working, weak and dead cylinders is weighed, summed
// over what a healthy cylinder's effect may be. Each measurement may be off by a
// few per cent of it always and by much of it now and then; each cut may have
// been of another cylinder than called, or of none. What a cylinder does and what
// went wrong at a cut is one truth for speed, effort and losses. A verdict is given
// only when it is sure; accusing takes more than acquitting. Cylinders that cannot
// be told apart are named as a [Set], with the cut to repeat.
//
// # Doing a test
//
// [Ways] says how to cut, safest first; [Next] what to cut, and when to stop;
// [Budget] lets the catalyst's books rule, and keeps what it booked for the job
// card; [Result.Heat] books a recorded test. Package script leads hands-free.
package cutout
