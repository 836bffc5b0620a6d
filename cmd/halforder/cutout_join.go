package main

import (
	"fmt"
	"path/filepath"

	"halforder/engine"
	"halforder/measure/cutout"
)

// cutoutTest is a recorded test, of one source or of several joined.
type cutoutTest struct {
	cutout.Recording
	began  float64 // what the first calls its beginning, s; 0: it counts from there
	joined []joinedFile
}

// joinedFile is a source beside the first.
type joinedFile struct {
	File string  `json:"file"`
	Late float64 `json:"late_s"` // how much later than the first it was started
}

func (j joinedFile) String() string {
	switch {
	case j.Late == 0:
		return fmt.Sprintf("Joined with %s, on the same clock.", j.File)
	case j.Late < 0:
		return fmt.Sprintf("Joined with %s, whose clock was started %.1f s earlier.", j.File, -j.Late)
	}
	return fmt.Sprintf("Joined with %s, whose clock was started %.1f s later.", j.File, j.Late)
}

// joined reads the file and those that go with it.
func (c *cutoutInput) joined(l engine.Layout) (cutoutTest, error) {
	first, began, err := c.cutoutColumns.read(c.File, l)
	if err != nil {
		return cutoutTest{}, err
	}
	test := cutoutTest{Recording: first, began: began}
	usual := cutoutColumns{Wheel: c.Wheel, RPM: c.RPM} // named columns are of the first
	for _, path := range c.With {
		other, _, err := usual.read(path, l)
		if err != nil {
			return test, err
		}
		j := joinedFile{File: filepath.Base(path)}
		if test.Recording, j.Late, err = cutout.Join(test.Recording, other); err != nil {
			return test, recordingError{fmt.Errorf("%s: %w", j.File, err)}
		}
		test.joined = append(test.joined, j)
	}
	return test, nil
}
