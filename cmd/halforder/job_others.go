package main

import (
	"fmt"
	"os"
	"slices"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

type jobOthersCmd struct {
	Part     fault.PartKind `arg:"" help:"Kind of part that is renewed: coil, plug, boot, lead, injector."`
	Cylinder int            `arg:"" help:"At which cylinder."`
	Age      float64        `placeholder:"KM" help:"How far the others have run; the car's distance when left out."`
	Horizon  float64        `default:"20000" placeholder:"KM" help:"A failure within so many kilometres comes back to this workshop (default: 20000, about a year)."`
	Interval float64        `placeholder:"KM" help:"Of parts such as plugs: the distance at which they are renewed anyway."`
	Price    float64        `placeholder:"MONEY" help:"Of one part; the list's when left out."`
	Rate     float64        `placeholder:"MONEY" help:"The workshop's price of an hour."`
	Comeback float64        `placeholder:"MONEY" help:"What it costs when the car comes back; the list's when left out."`
	Chance   float64        `placeholder:"SHARE" help:"Chance that one of the others fails within the horizon, 0 to 1, where no lives are known."`
	Lives    string         `type:"existingfile" help:"Records of how far such parts ran: a CSV file of age, failed or sound, and how many."`
	JSON     bool           `help:"Print as JSON."`
}

func (c *jobOthersCmd) Help() string {
	return `Weighs renewing the others that are within reach now against their failing later.
How often such parts fail is taken from --lives, else from --chance, else from the
jobs this workshop closed with a proven cause and a distance (at least five failed
parts of the kind). Where nothing says it, only the break-even is given.

A line of the file for --lives:  118000,failed    or for eight alike:  90000,sound,8`
}

// leastFailures is from how many failed parts a life is fitted. Judgement.
const leastFailures = 5

func (c *jobOthersCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		part, err := fault.ParsePartKind(string(c.Part))
		if err != nil {
			return badInput(err)
		}
		q := job.OthersQuestion{Kind: part, At: engine.Cylinder(c.Cylinder), Age: c.Age, Horizon: c.Horizon, Interval: c.Interval,
			Price: c.Price, Rate: c.Rate, Comeback: c.Comeback, Chance: c.Chance}
		lives, err := c.lives(d, part)
		if err != nil {
			return err
		}
		if failed(lives) > 0 {
			if q.Life, err = plan.FitWeibull(lives); err != nil {
				return badInput(err)
			}
		}
		answer, err := card.Others(d.catalogue, q)
		if err != nil {
			return badInput(err)
		}
		if c.JSON {
			return r.printJSON(answer)
		}
		c.print(r, answer, lives)
		return nil
	})
}

// lives are those of the file, or of the workshop's own jobs where they are
// enough and no chance is given.
func (c *jobOthersCmd) lives(d desk, part fault.PartKind) ([]plan.Life, error) {
	if c.Lives == "" {
		if c.Chance > 0 {
			return nil, nil
		}
		lives, err := d.book.Lives(d, d.catalogue, part, d.Now())
		if failed(lives) < leastFailures {
			lives = nil
		}
		return lives, err
	}
	f, err := os.Open(c.Lives)
	if err != nil {
		return nil, badInput(err)
	}
	defer f.Close()
	lives, err := readLives(f)
	if err != nil {
		return nil, badInput(fmt.Errorf("%s: %w", c.Lives, err))
	}
	return lives, nil
}

// parts is how many were recorded, failed how many of them failed.
func parts(lives []plan.Life) (n float64) {
	for _, l := range lives {
		n += orOne(l.Count)
	}
	return n
}

func failed(lives []plan.Life) float64 {
	return parts(slices.DeleteFunc(slices.Clone(lives), func(l plan.Life) bool { return !l.Failed }))
}

func (c *jobOthersCmd) print(r *run, a job.OthersAnswer, lives []plan.Life) {
	fmt.Fprintf(r.Stdout, "ONE OR THE SET: %s at cylinder %d\n", c.Part, c.Cylinder)
	if len(a.Reach) > 0 {
		r.printLine(2, "others within reach: %s", engine.Places(a.Reach))
	}
	r.printLine(2, "%s", a.Sentence)
	if a.Life == nil {
		return
	}
	r.printLine(2, "Life from %.0f parts, %.0f of them failed: scale %.1f km, shape %.4f (above 1: wears out); half have failed by %.0f km. Parts of cars that never came are not in it.",
		parts(lives), failed(lives), a.Life.Scale, a.Life.Shape, a.Median)
	if a.RenewAt > 0 {
		r.printLine(2, "Renewed at each %.0f km before they fail: %.2f per 1000 km, against %.2f when run to failure.", a.RenewAt, 1000*a.Cost, 1000*a.RunCost)
	} else {
		r.printLine(2, "Renewing a sound one before it fails never pays: %.2f per 1000 km when run to failure.", 1000*a.RunCost)
	}
}

// orOne is a count of parts, where 0 stands for one.
func orOne(n float64) float64 {
	if n == 0 {
		return 1
	}
	return n
}
