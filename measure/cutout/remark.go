package cutout

// remark adds what the technician should know of the test itself.
func (a *analysis) remark(r *Result, guesses []guess) {
	if len(r.Cuts) == 0 {
		r.Notes = append(r.Notes, "No cut was found. Press the button at each cut, or say in which order the cylinders were cut.")
	}
	_ = guesses
}
