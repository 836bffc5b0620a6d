package report

import (
	"time"

	"halforder/finding"
)

// Report is one job as a reader is told of it. Every rendering shows the same, but
// for the customer's sheet.
type Report struct {
	Number    int64
	Car       string
	Facts     []Fact // car, engine, customer: what the job is about
	Status    string
	Opened    time.Time
	Complaint []string
	Cautions  []string
	Measured  []Entry
	Believed  []Claim
	Moved     []string // what moved the belief most
	Next      []Step
	Done      []Entry
	Proof     []string
	Codes     []Fact   // still to be cleared, and what they mean
	Open      []string // what is not settled
	Spent     []Fact
	Closing   []string
	Sheet     Sheet
}

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Entry is one line of the card: what was done and what it showed.
type Entry struct {
	Number int64 // of the event, to undo it by
	At     time.Time
	By     string
	What   string
	Result string
	Notes  []string
	Plots  []finding.Series
}

// Claim is something believed, and how surely.
type Claim struct {
	What        string
	Probability float64 // 0 to 1
}

// Step is something proposed to do next.
type Step struct {
	What     string
	Why      string
	Answers  []string // what the likeliest answers would rule out and leave open
	Cost     string
	Needs    []string
	Cautions []string
	Stops    []string // to be confirmed before anything is done
}
