package main

import "testing"

// What rounds to nothing is shown without a sign: a phase of −0.3° is 0.
func TestNoNegativeZero(t *testing.T) {
	for _, c := range []struct {
		v             float64
		places        int
		fixed, signed string
	}{
		{-0.3, 0, "0", "+0"}, {-0.04, 1, "0.0", "+0.0"}, {-0.06, 1, "-0.1", "-0.1"}, {-0.6, 0, "-1", "-1"},
		{-10, 0, "-10", "-10"}, {0.2, 0, "0", "+0"}, {179.6, 0, "180", "+180"}, {-0.004, 2, "0.00", "+0.00"},
	} {
		if got := fixed(c.v, c.places); got != c.fixed {
			t.Errorf("fixed(%g, %d) = %q, want %q", c.v, c.places, got, c.fixed)
		}
		if got := signed(c.v, c.places); got != c.signed {
			t.Errorf("signed(%g, %d) = %q, want %q", c.v, c.places, got, c.signed)
		}
	}
}
