package practice

import (
	"fmt"
	"halforder/engine"
	"os"
	"testing"
)

func mk(t *testing.T, l string, f ...string) Config {
	ly, err := engine.Parse(l)
	if err != nil {
		t.Fatal(err)
	}
	c := Defaults(ly)
	for _, s := range f {
		x, err := ParseFault(s)
		if err != nil {
			t.Fatal(err)
		}
		c.Faults = append(c.Faults, x)
	}
	return c
}
func show(e *Engine) {
	k := e.computer
	fmt.Printf("t=%6.2f rpm=%6.1f map=%5.1f adv=%4.1f area=%5.2fmm2 sum=%.2f maf=%.2fg/s scale=%.2f lam=%.3f st=%.3f lt=%.3f drag=%.1f cat=%.0f volts=%.1f cool=%.1f\n", e.now, float64(e.rpm()), e.manifold.pressure/1e3, k.advance, k.idleArea*1e6, k.idleSum, e.manifold.metered*1e3, k.airScale, e.gas[0].sensed, k.trims[0].short, k.trims[0].long, e.drag, e.catalyst[0].celsius, e.volts, e.heat.coolantC)
}
func TestScratch(t *testing.T) {
	if os.Getenv("SCRATCH") == "" {
		t.Skip()
	}
	c := mk(t, "i4")
	c.Running = false
	c.CoolantC = 20
	e, err := New(c, Sensors{})
	if err != nil {
		t.Fatal(err)
	}
	e.Do("start")
	for i := 0; i < 40; i++ {
		e.RunUntil(float64(i) * 0.25)
		show(e)
	}
	fmt.Println("warm")
	c = mk(t, "i4")
	e, err = New(c, Sensors{})
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < 10; i++ {
		e.RunUntil(float64(i) * 1)
		show(e)
	}
	for _, f := range e.truth.Firings[:12] {
		fmt.Printf("%+v\n", f)
	}
	e.Do("unplug injector 2")
	for i := 0; i < 30; i++ {
		e.RunUntil(10 + float64(i)*.25)
		show(e)
	}
	e.Do("reconnect injector 2")
	e.RunUntil(30)
	e.Do("hold 2500")
	for i := 0; i < 10; i++ {
		e.RunUntil(30 + float64(i)*1)
		show(e)
	}
}
