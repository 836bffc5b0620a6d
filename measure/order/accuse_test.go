package order

import (
	"testing"

	"halforder/finding"
)

// Two halves of the sound that each say little accuse nobody by agreeing on which
// firing is the fainter one: that of a healthy engine is so in both. One sure half
// does, and two that together say enough.
func TestAgreementOfHalvesAccusesNobody(t *testing.T) {
	for _, c := range []struct {
		odds, bass, upper float64
		want              finding.Verdict
	}{
		{2.4, 1.2, 0.4, finding.CannotTell}, {2.4, 1.3, 1.2, finding.Misfire}, {2.8, 2.5, -0.1, finding.Misfire},
		{2.8, 0.4, 2.5, finding.Misfire}, {1.5, 1.2, 1.2, finding.CannotTell},
	} {
		j := judgement{n: 6, odds: c.odds, bass: c.bass, upper: c.upper, patterns: []finding.Pattern{"d....."}}
		if got, why := j.verdict(750); got != c.want {
			t.Errorf("odds %.1f, bass %.1f, upper %.1f: %s (%s), want %s", c.odds, c.bass, c.upper, got, why, c.want)
		}
	}
}
