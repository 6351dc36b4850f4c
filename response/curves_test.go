package response

import (
	"math"
	"testing"
)

// The phase of a resistance is 0 and not −0, whichever way its reactance went.
func TestDegreesOfNothing(t *testing.T) {
	for _, z := range []complex128{complex(3, math.Copysign(0, -1)), 3, 0} {
		if d := Degrees(z); d != 0 || math.Signbit(d) {
			t.Errorf("Degrees(%v) = %v, want 0", z, d)
		}
	}
	if d := Degrees(complex(-1, math.Copysign(0, -1))); d != 180 {
		t.Errorf("a negative real number stands at %v, want 180", d)
	}
}
