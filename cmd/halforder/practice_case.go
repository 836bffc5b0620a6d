package main

import (
	"bufio"
	"fmt"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/practice/exercise"
	"halforder/practice/folder"
)

type practiceCaseCmd struct {
	Engine    string `default:"i4" help:"Engine layout: a name or a firing order."`
	Seed      uint64 `default:"1" help:"Which case: the same seed hides the same fault."`
	Complaint string `default:"" placeholder:"KIND" help:"dead, flicker, load or rough; the seed chooses when left out."`
	Buried    bool   `help:"Coils and plugs sit under the plenum: checks there take longer."`
	JSON      bool   `help:"Print the score, and only that, as JSON."`
}

func (c *practiceCaseCmd) Help() string {
	return `Orders are read one a line from standard input, typed or from a file:

  menu                what can be checked, and its price
  codes               a check of the whole engine
  plug 3              a check of one cylinder
  record DIR 30       30 s of recordings for your own analysis
  swap coil 3 1       change parts for good; also renew coil 3, mend plenum-leak 0
  bill                spent so far
  name coil-open 3    the fault: ends the case
  names               the faults that can be named
  quit                give up

The score is 100 when your bill, repair included, is no dearer than the best
plan's for this fault, and 0 for a wrong name.`
}

func (c *practiceCaseCmd) Run(r *run) error {
	layout, err := engine.Parse(c.Engine)
	if err != nil {
		return badInput(err)
	}
	x, err := exercise.New(c.Seed, layout, c.Complaint, c.Buried)
	if err != nil {
		return badInput(err)
	}
	c.say(r, "%s, case %d. The customer: “%s”\nOrder checks; \"menu\" lists them, \"name …\" ends the case.\n", layout.Title(), c.Seed, x.Story)
	orders := bufio.NewScanner(r.Stdin)
	for orders.Scan() {
		line := strings.TrimSpace(orders.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		done, err := c.obey(r, x, line)
		if err != nil {
			fmt.Fprintf(r.Stderr, "halforder: %v\n", err)
		}
		if done {
			return nil
		}
	}
	if err := orders.Err(); err != nil {
		return err
	}
	return badInput(fmt.Errorf("the orders ended before the fault was named: end with name or quit"))
}

// say prints for a person; JSON leaves it out.
func (c *practiceCaseCmd) say(r *run, format string, args ...any) {
	if !c.JSON {
		fmt.Fprintf(r.Stdout, format, args...)
	}
}

// obey carries out one line and reports whether the case is over.
func (c *practiceCaseCmd) obey(r *run, x *exercise.Exercise, line string) (done bool, err error) {
	verb, rest, _ := strings.Cut(line, " ")
	switch verb {
	case "menu":
		c.menu(r, x)
	case "names":
		c.say(r, "%s\n", strings.Join(exercise.Names(), "\n"))
	case "bill":
		c.say(r, "%.0f min and %.0f in parts and materials: %.0f in all.\n", x.Minutes, x.Money, exercise.Bill(x.Minutes, x.Money))
	case "quit":
		c.say(r, "Given up after a bill of %.0f.\n", exercise.Bill(x.Minutes, x.Money))
		return true, nil
	case "record":
		return false, c.record(r, x, strings.Fields(rest))
	case "name":
		fmt.Fprintln(r.Stderr, "Working out the best plan …")
		score, err := x.Name(rest)
		if err != nil {
			return false, err
		}
		return true, c.finish(r, score)
	default:
		entry, err := x.Order(line)
		if err != nil {
			return false, err
		}
		c.say(r, "%s\n  (%.0f min, %.0f; in all %.0f)\n", entry.Answer, entry.Minutes, entry.Money, exercise.Bill(x.Minutes, x.Money))
	}
	return false, nil
}

func (c *practiceCaseCmd) menu(r *run, x *exercise.Exercise) {
	for _, o := range x.Menu() {
		name := o.Name
		if o.PerCylinder {
			name += " N"
		}
		c.say(r, "%-17s %4.0f min %4.0f   %s\n", name, o.Minutes, o.Money, o.Tells)
	}
}

func (c *practiceCaseCmd) record(r *run, x *exercise.Exercise, words []string) error {
	if len(words) == 0 || len(words) > 2 {
		return fmt.Errorf("record needs a new folder and, if not 30, the seconds: record DIR 30")
	}
	seconds := 30.0
	if len(words) == 2 {
		var err error
		if seconds, err = strconv.ParseFloat(words[1], 64); err != nil {
			return fmt.Errorf("%q is not a number of seconds", words[1])
		}
	}
	rec, cfg, err := x.Record(seconds)
	if err != nil {
		return err
	}
	list, err := folder.Write(words[0], cfg, rec)
	if err == nil {
		c.say(r, "%d files in %s.\n", len(list.Files), words[0])
	}
	return err
}

func (c *practiceCaseCmd) finish(r *run, s exercise.Score) error {
	if c.JSON {
		return r.printJSON(s)
	}
	verdict := "Wrong"
	if s.Right {
		verdict = "Right"
	}
	c.say(r, "%s. You named: %s. It was: %s.\n", verdict, s.Named, s.Truth)
	c.say(r, "Your bill %.0f, the best plan's %.0f (%s).\n", s.Bill, s.Best, strings.Join(s.Plan, ", "))
	c.say(r, "Score %d of 100.\n", s.Points)
	return nil
}
