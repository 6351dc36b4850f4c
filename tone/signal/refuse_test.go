package signal

import (
	"strings"
	"testing"
)

// TestFullScaleAndSoftSteps: a full scale below zero is refused, a step too soft to
// be heard is not.
func TestFullScaleAndSoftSteps(t *testing.T) {
	plan := Plan{Rate: 48000, Bits: 24, Tones: []Tone{{Frequency: 8, Steps: []Step{{Volts: 0.1, Level: -12}, {Volts: 1, Level: 8}}}}}
	if _, err := Lay(plan); err != nil {
		t.Error(err)
	}
	plan.FullScale = -3
	if _, err := Lay(plan); err == nil || !strings.Contains(err.Error(), "full scale: found -3 V") {
		t.Error(err)
	}
}
