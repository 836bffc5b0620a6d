// Package exercise is a case to practise on: an engine of package practice with
// one hidden fault. The technician orders checks that cost minutes and money,
// reads what they give, and names the fault; the score compares the bill with
// that of the best plan.
//
//	x, err := exercise.New(7, layout, "", false)
//	fmt.Println(x.Story)
//	entry, err := x.Order("codes")
//	entry, err = x.Order("swap-coil 3")
//	score, err := x.Name("coil-open 3")
//
// Checks really run the practice engine and read its sensors; an intermittent
// fault can be absent while one looks. The best plan is the decision tree of
// least expected cost over everything that may lie behind the complaint,
// solved exactly, with the outcomes of every check known from trial runs. Minutes,
// prices and weights stand in checks.csv, repairs.csv and cases.csv with their
// sources.
package exercise
