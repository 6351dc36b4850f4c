package sweep

import (
	"errors"

	"ocarina/wav"
)

// A Calibration corrects a recording for the differences of its two channels.
type Calibration struct{}

// FromRecording turns a two-channel recording into an impedance.
func FromRecording(rec *wav.Recording, name string, opt Options) (*Sweep, error) {
	return nil, errors.New("not read")
}
