// Package halforder is the root of a workshop tool that finds why a petrol
// engine runs rough and proves the repair. The program is cmd/halforder.
//
// Folders show the floors: a package imports only floors below its own, and
// floors_test.go enforces it.
package halforder
