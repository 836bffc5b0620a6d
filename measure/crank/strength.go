package crank

import "fmt"

// surelyNothing is the share of the expected full work from which a weak firing
// is called a miss without more ado: simulated misses lose from half of it on, in
// engines that pull little, and firings that bring two fifths up to as much.
const surelyNothing = 0.6

// strength says what the weak firings may have been, when they lost too little
// to be called misses without more ado; else empty.
func (a *analysis) strength() string {
	dead := a.deadSlots()
	lost := a.misses.depth
	if !(lost < surelyNothing) || len(a.missingSlots(dead)) == 0 {
		return ""
	}
	if len(dead) > 0 {
		return fmt.Sprintf("The firings missed now and then lost about %.0f %% of what a dead cylinder loses: partial burns rather than misses.", 100*lost)
	}
	return fmt.Sprintf("The firings missed now and then lost about %.0f %% of what a sound one is expected to bring: misses if the engine pulls little or its flywheel is heavy, else partial burns. The crank alone does not tell which.", 100*lost)
}
