package main

import (
	"fmt"

	"halforder/practice"
)

type practiceFaultsCmd struct {
	JSON bool `help:"Print as JSON."`
}

func (c *practiceFaultsCmd) Help() string {
	return `A fault is typed as kind, place, severity from 0 to 1, then when it shows and
how it comes and goes:

  coil-open@3                    always, at cylinder 3
  coil-weak@2:0.9,hot            only when hot
  coil-wiring@4:1,bursts=2/10    2 s on, 10 s off on average
  boot-leak@6:1,wet,random=0.5   every second firing, when wet
  cam-timing@bank2:0.6
  plenum-leak:0.5

When it shows: cold, hot, load, wet, idle; else always.`
}

type faultLine struct {
	Kind     string `json:"kind"`
	Cause    string `json:"cause"`
	Site     string `json:"site"`
	Title    string `json:"title"`
	Severity string `json:"full_severity"`
	Source   string `json:"source"`
}

func (c *practiceFaultsCmd) Run(r *run) error {
	var lines []faultLine
	for _, k := range practice.Kinds() {
		lines = append(lines, faultLine{k.Name, k.Cause, string(k.Site), k.Title, k.Severity, k.Source})
	}
	if c.JSON {
		return r.printJSON(lines)
	}
	for _, l := range lines {
		fmt.Fprintf(r.Stdout, "%-20s %-9s %s\n", l.Kind, l.Site, l.Title)
		r.printLine(21, "at severity 1: %s", l.Severity)
	}
	return nil
}
