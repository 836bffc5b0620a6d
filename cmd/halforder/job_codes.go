package main

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"halforder/job"
)

type jobCodesCmd struct {
	Codes   []string `arg:"" optional:"" help:"Codes as the car gives them, such as P0303."`
	Cleared bool     `help:"They were cleared in the car."`
}

// codeForm is the form of a trouble code in ISO 15031-6: a letter for the
// system and four hexadecimal digits, the first 0 to 3.
var codeForm = regexp.MustCompile(`^[PBCU][0-3][0-9A-F]{3}$`)

func (c *jobCodesCmd) Run(r *run, g *jobCmd) error {
	if c.Cleared == (len(c.Codes) > 0) {
		return badInput(errors.New("name the codes, or say --cleared"))
	}
	for i, code := range c.Codes {
		c.Codes[i] = strings.ToUpper(code)
		if !codeForm.MatchString(c.Codes[i]) {
			return badInput(fmt.Errorf("%q is not a trouble code: a letter P, B, C or U and four digits, such as P0303", code))
		}
	}
	return g.withCard(r, func(d desk, card *job.Card) error {
		if c.Cleared {
			return d.enter(card, "codes cleared", &job.CodesCleared{})
		}
		return d.enter(card, "codes "+strings.Join(c.Codes, " "), &job.Coded{Codes: c.Codes})
	})
}
