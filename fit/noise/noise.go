// Package noise tells from what a fit leaves how noisy its data are.
package noise

import (
	"math"
	"slices"
)

// Deviation estimates the standard deviation of mostly Gaussian residuals about
// zero from their median size.
func Deviation(r []float64) float64 {
	if len(r) == 0 {
		return 0
	}
	s := make([]float64, len(r))
	for i, v := range r {
		s[i] = math.Abs(v)
	}
	slices.Sort(s)
	m := len(s)
	return 1.482602218505602 * 0.5 * (s[(m-1)/2] + s[m/2])
}

// Together returns by how much wider a mean of neighbouring residuals spreads
// than if they were independent: √((1+ρ)/(1−ρ)) of a first-order process, ρ the
// correlation of neighbours, at most 0.99. Outlying residuals, next to their
// standard deviation, are clipped; what chance would do is no correlation.
func Together(r []float64, deviation float64) float64 {
	clip := func(v float64) float64 { return math.Min(math.Max(v, -3*deviation), 3*deviation) }
	var both, own float64
	for i := range r {
		v := clip(r[i])
		own += v * v
		if i > 0 {
			both += v * clip(r[i-1])
		}
	}
	if own == 0 {
		return 1
	}
	rho := both / own
	if rho < 3/math.Sqrt(float64(len(r))) {
		return 1
	}
	rho = math.Min(rho, 0.99)
	return math.Sqrt((1 + rho) / (1 - rho))
}
