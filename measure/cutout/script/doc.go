// Package script leads a technician through a cut-out test hands-free: it
// listens to the live stream and says what to do next. It is pure logic: time
// comes with each sample, what is said comes out as text, nothing is started,
// drawn or spoken here.
//
//	s, err := script.New(script.Setup{Layout: layout, Plan: plan, Budget: budget})
//	for sample := range stream {
//		for _, p := range s.Step(sample) {
//			speak(p.Text)
//		}
//	}
//	result, err := cutout.Analyse(cutout.Recording{Marks: s.Marks(), …})
//
// The course: prepare → steady → pull → hold → back → recover → next, until the
// plan has enough. A cut that is not seen is asked about once and then kept as
// unseen, for that is how a dead cylinder looks; another cylinder than the one
// called, when the stream can name it, is written down as what it was; a stall
// leads through plugging in and starting again; and when the catalyst's seconds
// run out, the voice says so until the cut has ended.
package script
