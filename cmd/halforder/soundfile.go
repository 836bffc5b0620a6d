package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"halforder/reader/audio"
	"halforder/reader/wav"
)

// soundFile hands out the samples of a recording, whatever its kind.
type soundFile interface {
	Read(dst []float32) (int, error) // whole frames, interleaved; io.EOF at the end
	Channels() int
	Rate() float64   // frames a second, as declared
	Notes() []string // what was odd, complete at the end
}

// isSoundFile reports whether a file that begins so is sound, rather than text.
func isSoundFile(head []byte) bool {
	return bytes.HasPrefix(head, []byte("RIFF")) || bytes.HasPrefix(head, []byte("RF64")) || audio.Begins(head)
}

// openSoundFile reads up to the first sample. The kind is told by the first bytes.
func openSoundFile(src io.Reader) (soundFile, error) {
	in := bufio.NewReader(src)
	if head, _ := in.Peek(12); audio.Begins(head) {
		return audio.NewReader(in)
	}
	r, err := wav.NewReader(in)
	if other := (*wav.NotWaveError)(nil); errors.As(err, &other) {
		return nil, notSound(other.Looks)
	}
	return wavFile{r}, err
}

type wavFile struct{ *wav.Reader }

func (f wavFile) Channels() int   { return f.Format().Channels }
func (f wavFile) Rate() float64   { return f.Format().Rate }
func (f wavFile) Notes() []string { return f.Damage().Notes() }

// notSound says what to do with a file that looks like something else.
func notSound(looks string) error {
	const instead = "convert the recording to WAV or FLAC, or open it in the bench, where the browser reads more kinds"
	switch looks {
	case "":
		return errors.New("no sound recording of a kind that is read here, whatever its name says: " + instead)
	case "text":
		return errors.New("this is text and no sound, whatever its name says: give a recording as WAV, FLAC or MP3")
	}
	return fmt.Errorf("this is %s, which is not read here: %s", looks, instead)
}
