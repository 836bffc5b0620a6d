package guard

import (
	"fmt"
	"slices"
	"time"
)

// Role is what a session may do.
type Role string

// The roles.
const (
	Bench  Role = "bench"  // everything
	Sensor Role = "sensor" // send recordings, see what is measured
	Guest  Role = "guest"  // look, change nothing
)

// Roles lists the roles that can be paired.
func Roles() []Role { return []Role{Bench, Sensor, Guest} }

// ParseRole reads a role; the error lists the valid ones.
func ParseRole(text string) (Role, error) {
	if slices.Contains(Roles(), Role(text)) {
		return Role(text), nil
	}
	return "", fmt.Errorf("unknown role %q: use one of %v", text, Roles())
}

// Session is one paired device.
type Session struct {
	ID    string    `json:"id"` // hash of its secret
	Role  Role      `json:"role"`
	Job   int64     `json:"job,omitempty"` // where a sensor begins; 0: the list
	Name  string    `json:"name,omitempty"`
	Until time.Time `json:"until"`
	Local bool      `json:"-"` // a browser on this machine
}

// May reports whether the session has one of the roles.
func (s Session) May(roles ...Role) bool { return slices.Contains(roles, s.Role) }
