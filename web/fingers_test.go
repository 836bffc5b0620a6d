package web_test

import (
	"context"
	"strings"
	"testing"
	"time"
)

// overPlot is the part of the first plot that takes fingers.
const overPlot = `document.querySelector("[data-plot] .u-over")`

// askedFrom counts how often a part of a plot was asked for in full detail.
const askedFrom = `performance.getEntriesByType("resource").filter((e) => e.name.includes("?from=")).length`

// twoFingers spread from the middle half of a plot to its edges.
const twoFingers = `(() => {
  const o = ` + overPlot + `, box = o.getBoundingClientRect(), y = box.top + box.height / 2;
  const touch = (kind, id, share) => o.dispatchEvent(new PointerEvent(kind, { pointerId: id, pointerType: "touch", bubbles: true, clientX: box.left + box.width * share, clientY: y }));
  touch("pointerdown", 1, 0.4); touch("pointerdown", 2, 0.6);
  touch("pointermove", 1, 0.1); touch("pointermove", 2, 0.9);
  touch("pointerup", 1, 0.1); touch("pointerup", 2, 0.9);
  return true;
})()`

// oneDrag drags over the middle of a plot, as a mouse or one finger does.
const oneDrag = `(() => {
  const o = ` + overPlot + `, box = o.getBoundingClientRect(), y = box.top + box.height / 2;
  const mouse = (kind, share, on) => on.dispatchEvent(new MouseEvent(kind, { bubbles: true, button: 0, movementX: 5, clientX: box.left + box.width * share, clientY: y }));
  mouse("mousemove", 0.3, o); mouse("mousedown", 0.3, o); mouse("mousemove", 0.5, o); mouse("mousemove", 0.7, o); mouse("mouseup", 0.7, document);
  return true;
})()`

// plotsTakeFingers looks closer at a plot by pinching and by dragging: the part
// looked at is asked for and is narrower than the whole.
func plotsTakeFingers(t *testing.T, ctx context.Context) {
	t.Helper()
	eval[bool](t, ctx, `(document.querySelector("[data-plot]").scrollIntoView({ block: "center" }), true)`)
	wait(t, ctx, 10*time.Second, overPlot)
	for i, gesture := range []string{twoFingers, oneDrag} {
		eval[bool](t, ctx, gesture)
		wait(t, ctx, 10*time.Second, askedFrom+` > `+string(rune('0'+i)))
	}
	last := eval[string](t, ctx, `performance.getEntriesByType("resource").filter((e) => e.name.includes("?from=")).at(-1).name`)
	if !strings.Contains(last, "&to=") {
		t.Errorf("asked for %s", last)
	}
	keep(t, ctx, "closer")
}
