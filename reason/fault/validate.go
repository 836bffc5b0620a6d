package fault

import (
	"errors"
	"fmt"
)

// settingNames are the numbers the model cannot do without.
var settingNames = []string{
	"flag-hit", "flag-false", "watch-missed", "watch-false", "swap-slip", "swap-missed", "swap-false", "swap-persist", "swap-new", "new-part-bad", "repeat-weight",
	"unlisted-flat", "shutoff", "rail-whole", "severity-floor",
	"rate", "comeback", "lost-trust", "further-diagnosis", "bit",
}

// validate checks what only the whole catalogue can show. Faults within a row
// have been found with their line already.
func (c *Catalogue) validate() error {
	var errs []error
	note := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	for _, name := range settingNames {
		if _, ok := c.settings[name]; !ok {
			note("settings.csv: %q is missing", name)
		}
	}
	c.validateCauses(note)
	c.validateChecks(note)
	for _, s := range Severities() {
		for _, g := range Regimes() {
			if _, ok := c.behaviours[s][g]; !ok {
				note("severities.csv: no row for %s in regime %s", s, g)
			}
		}
	}
	return errors.Join(errs...)
}

func (c *Catalogue) validateCauses(note func(string, ...any)) {
	for _, code := range []string{NotMisfire, Unlisted, UnlistedAll} {
		if _, err := c.Cause(code); err != nil {
			note("causes.csv: every catalogue needs the cause %q", code)
		}
	}
	for _, x := range Complaints() {
		info, ok := c.complaints[x]
		if !ok {
			note("complaints.csv: no row for %q", x)
			continue
		}
		if info.NotMisfire+info.NotListed+info.Pairs >= 1 {
			note("%s: %s leaves nothing for single causes", c.written["complaint "+string(x)], x)
		}
	}
	for _, x := range c.causes {
		if _, err := c.Repair(x.Repair); err != nil {
			note("%s: %s: %w", c.written["cause "+x.Code], x.Code, err)
		}
		if _, ok := c.priors[DeadOne][x.Code]; !ok && !x.Unlisted() && x.Code != NotMisfire {
			note("%s: %q has no row in priors.csv", c.written["cause "+x.Code], x.Code)
		}
	}
}

func (c *Catalogue) validateChecks(note func(string, ...any)) {
	for _, k := range c.checks {
		if k.Swaps != "" {
			continue
		}
		if len(k.Outcomes) < 2 {
			note("%s: %q needs at least two rows in outcomes.csv", c.written["check "+k.Code], k.Code)
		}
		if c.Sound(k.Code) == nil {
			note("%s: %q has no row for a sound engine in responses.csv", c.written["check "+k.Code], k.Code)
		}
		if (c.OfState(k.Code, Weak) == nil) != (c.OfState(k.Code, Dead) == nil) {
			note("%s: %q needs rows for both state:weak and state:dead in responses.csv, or neither", c.written["check "+k.Code], k.Code)
		}
		for key, p := range c.responses {
			if key.check == k.Code && len(*p) != len(k.Outcomes) {
				note("%s: %q, %s: responses.csv has %d outcomes, outcomes.csv %d", c.written["check "+k.Code], k.Code, key.subject, len(*p), len(k.Outcomes))
			}
		}
	}
}
