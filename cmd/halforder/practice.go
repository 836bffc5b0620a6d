package main

// practiceCmd groups what is done with an engine that does not exist.
type practiceCmd struct {
	Run    practiceRunCmd    `cmd:"" help:"Run a practice engine and write what its sensors saw into a folder."`
	Case   practiceCaseCmd   `cmd:"" help:"Work on a hidden fault: order checks, name it, be scored."`
	Faults practiceFaultsCmd `cmd:"" help:"List the faults a practice engine can have."`
}
