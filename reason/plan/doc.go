// Package plan says what to do next: the check or repair with the least
// expected total cost to a proven repair, with a plain reason.
//
//	suggestions, err := plan.Next(b, plan.Options{Regime: fault.Idle, Miss: belief.Present})
//
// Cost is minutes times the shop's rate, plus parts, plus what may go wrong: a
// good part sold, the catalyst heated. Renewing a part is a check as well, since
// the miss goes or stays.
package plan
