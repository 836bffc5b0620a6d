package sqlite_test

import (
	"testing"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
)

func someCar(t *testing.T) job.Opened {
	t.Helper()
	six, err := engine.Parse("i6")
	if err != nil {
		t.Fatal(err)
	}
	return job.Opened{Car: "Tarn Corvid", Engine: six, Ignition: fault.CoilOnPlug, Injection: fault.Port,
		Access: fault.Easy, Complaint: fault.Rough, Regime: fault.Idle}
}
