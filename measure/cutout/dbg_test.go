package cutout

import (
	"fmt"
	"os"
	"strconv"
	"testing"

	"halforder/tools/idlesim"
)

func TestDbg(t *testing.T) {
	s, _ := strconv.Atoi(os.Getenv("SEED"))
	c := idlesim.Random(uint64(s), idlesim.Options{Faults: -1, Marked: os.Getenv("UNM") == "", Unmarked: os.Getenv("UNM") != ""})
	r := Recording{Layout: c.Car.Layout}
	r.Speed.T, r.Speed.Y = c.Trace.Sample(idlesim.RPM, c.Rate, c.Noise, c.Quantum, c.Seed)
	for _, call := range c.Called {
		if c.Marked {
			r.Marks = append(r.Marks, Mark{At: call.Off, Cylinders: call.Cylinders}, Mark{At: call.On, On: true})
		} else {
			r.Called = append(r.Called, call.Cylinders)
		}
	}
	fmt.Printf("car %+v\nrate %g noise %.1f q %g\n", c.Car, c.Rate, c.Noise, c.Quantum)
	a := newAnalysis(r)
	a.find()
	fmt.Printf("shape %.2f phi %.2f step %g noise(white) %.2f raw sd %.2f\n", a.shape.x, a.speed.phi, a.speed.step, robustSigma(a.speed.white), robustSigma(a.speed.y))
	for _, e := range a.events {
		fmt.Printf("ev %.2f size %.1f z %.1f\n", e.at, e.size, e.z)
	}
	fmt.Println(c.Loads)
	g, _ := a.assign()
	a.measure(g)
	fmt.Println(len(g))
	if len(g) > 0 {
		for i, x := range g[0].cuts {
			tr := Cut{}
			_ = tr
			if i < len(c.Cuts) {
				fmt.Printf("true %.2f-%.2f %v %.2f | ", c.Cuts[i].Start, c.Cuts[i].End, c.Cuts[i].Cylinders, c.Truth()[c.Cuts[i].Cylinders[0]-1])
			}
			fmt.Printf("%v %.2f-%.2f seen %v %v drop %.1f±%.1f rise %.1f±%.1f\n", x.Cylinders, x.Start, x.End, x.Seen, x.EndSeen, x.Drop.Value, x.Drop.Sigma, x.Rise.Value, x.Rise.Sigma)
		}
	}
	if os.Getenv("DUMP") != "" {
		f, _ := os.Create(os.Getenv("DUMP"))
		for i := range r.Speed.T {
			fmt.Fprintln(f, r.Speed.T[i], r.Speed.Y[i])
		}
		f.Close()
	}
}
