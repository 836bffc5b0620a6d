package cutout

import (
	"errors"
	"fmt"
	"slices"

	"halforder/measure/order"
)

// stretchSeconds is how long a piece of a recording is listened to by itself:
// between two cuts there are such pieces, and a tracker that loses its way in the
// whole finds the idle in them.
const stretchSeconds = 10.0

// listeners follow the speed of a recording as a whole, and of its pieces.
type listeners struct {
	config order.Config
	rate   float64
	whole  *order.Listener
	piece  *order.Listener
	left   int       // samples of the piece to come
	idles  []float64 // rpm, of the pieces in which an engine was heard
}

func newListeners(config order.Config, rate float64) (*listeners, error) {
	l := &listeners{config: config, rate: rate}
	var err error
	if l.whole, err = order.NewListener(config, rate); err == nil {
		err = l.nextPiece()
	}
	return l, err
}

func (l *listeners) nextPiece() (err error) {
	l.piece, err = order.NewListener(l.config, l.rate)
	l.left = int(stretchSeconds * l.rate)
	return err
}

// Write takes the next samples.
func (l *listeners) Write(x []float32) {
	l.whole.Write(x)
	for len(x) >= l.left {
		l.piece.Write(x[:l.left])
		x = x[l.left:]
		l.endPiece()
	}
	l.piece.Write(x)
	l.left -= len(x)
}

func (l *listeners) endPiece() {
	if t, err := speedOf(l.piece); err == nil && len(t.Y) > 0 {
		l.idles = append(l.idles, median(slices.Clone(t.Y)))
	}
	_ = l.nextPiece() // what the first one was made of is valid
}

// speed of a recording that lasts so many seconds: as the whole has it, else the
// usual one of the pieces, else the one that was given.
func (l *listeners) speed(seconds float64) (Track, error) {
	t, err := speedOf(l.whole)
	if err == nil {
		return t, nil
	}
	usual := float64(l.config.Speed)
	if len(l.idles) > 0 {
		usual = median(l.idles)
	}
	if usual > 0 && (len(l.idles) > 0 || errors.As(err, new(*order.NoEngineError))) {
		return Track{T: []float64{0, seconds / 2, seconds}, Y: []float64{usual, usual, usual}}, nil
	}
	return Track{}, fmt.Errorf("%w; or give the idle speed, which helps when the sound is full of cuts", err)
}

// speedOf is the speed a listener followed.
func speedOf(l *order.Listener) (Track, error) {
	heard, err := l.Finish()
	if err != nil {
		return Track{}, err
	}
	for _, s := range heard.Series {
		if s.YUnit == "rpm" && len(s.X) > 2 {
			return trackOf(s), nil
		}
	}
	return Track{}, errors.New("cut-out test: no engine speed can be heard in this sound")
}
