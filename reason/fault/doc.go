// Package fault is the catalogue: what can be wrong with an engine that runs
// rough, in what each cause sits, what can be checked, how each cause answers
// each check, and what the repairs take.
//
// All of it is data in CSV files with a source column; nothing is coded. A shop
// lays files of its own over it:
//
//	c, err := fault.ForShop("our-shop")
//
// A row replaces the row with the same key. Errors name file and line. Prices
// and judgements that a shop may see otherwise are in settings.csv: the rate,
// what a comeback or a good part sold loses, the labour of a further diagnosis.
//
// A cause lives in a part (and moves with it), at a place (and stays) or in
// something shared. A [Seating] says which part sits where. What a fault does
// to the cylinders it touches follows from its [Severity] and the [Regime]; what
// a check then shows follows from the cylinder's state, or from the cause where
// the check looks at the cause itself.
package fault
