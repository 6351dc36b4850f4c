package acoustic

import (
	"fmt"
	"math"
	"sync"
)

// UnflangedLimit is the ka below which only the plane wave runs in a round
// pipe (the first zero of J1): the range of [UnflangedPipe].
const UnflangedLimit = 3.8317059702075125

// UnflangedPipe returns what the open end of a thin-walled pipe of radius a
// without a flange does to the plane wave in it: |R|, the reflection
// coefficient of the pressure, and the end correction δ in units of a, so that
// R = −|R|·e^{−2jkδ}. 0 ≤ ka < UnflangedLimit; it panics outside.
//
// |R| and δ carry an error under 1e-6. δ at ka = 0 is 0.612701, not the
// printed 0.6133 ([Free]).
//
// Source: H. Levine & J. Schwinger, Phys. Rev. 73 (1948) 383-406, eqs (VI.4)
// and (VI.5).
func UnflangedPipe(ka float64) (absR, length float64) {
	if !(ka >= 0 && ka < UnflangedLimit) {
		panic(fmt.Sprintf("acoustic: UnflangedPipe needs 0 ≤ ka < %.4f, got %g", UnflangedLimit, ka))
	}
	for _, n := range evanescent() {
		length += n.weight / math.Sqrt(n.x*n.x+ka*ka)
	}
	if ka == 0 {
		return 1, length / math.Pi
	}
	// x = ka·sin θ, θ = π/2·(1 + tanh(π/2·sinh t))/2: the integrands go to
	// zero as x·ln x, which the double exponential rule does not mind.
	var phase, size float64
	const h = 1.0 / 16
	for k := -48; k <= 48; k++ {
		t := h * float64(k)
		u := math.Pi / 2 * math.Sinh(t)
		theta := math.Pi / 2 / (1 + math.Exp(-2*u))
		w := h * math.Pi * math.Pi / 8 * math.Cosh(t) / (math.Cosh(u) * math.Cosh(u))
		sin := math.Sin(theta)
		x := ka * sin
		if x < tiny {
			phase += w * math.Pi / 4 * x * ka
			size -= w * departure(x) / sin
			continue
		}
		j, n := math.J1(x), math.Y1(x)
		phase += w * math.Atan2(j, -n) / sin
		size += w * math.Log(math.Pi*j*math.Hypot(j, n)) / sin
	}
	return math.Exp(-2 / math.Pi * phase), (length + size/ka) / math.Pi
}

type node struct{ x, weight float64 }

// evanescent holds the nodes and weights of ∫ ln[1/(2·I1(x)·K1(x))]/x · f(x) dx
// from 0 to ∞, x = e^{π/2·sinh t}.
var evanescent = sync.OnceValue(func() []node {
	var nodes []node
	const h = 1.0 / 16
	for k := -56; k <= 56; k++ {
		t := h * float64(k)
		x := math.Exp(math.Pi / 2 * math.Sinh(t))
		log := departure(x)
		if x >= tiny {
			log = math.Log(2 * productI1K1(x))
		}
		w := h * math.Pi / 2 * math.Cosh(t) // dx/x
		nodes = append(nodes, node{x, -w * log})
	}
	return nodes
})

// departure is ln(2·I1(x)·K1(x)), and −ln(π·J1·√(J1²+N1²)) too, for x < tiny:
// the logarithm of a number too near 1 to be formed first.
func departure(x float64) float64 {
	const euler = 0.57721566490153286
	return x * x / 2 * (math.Log(x/2) + euler - 0.25)
}

const tiny = 1e-4

// productI1K1 returns I1(x)·K1(x), x > 0: I1 by its series and K1 by the
// integral of e^{−x·cosh t}·cosh t (Abramowitz & Stegun 9.6.10, 9.6.24), for
// which the trapezoid rule converges exponentially; above 20 by the asymptotic
// series of the product (9.7.5).
func productI1K1(x float64) float64 {
	if x > 20 {
		q := 1 / (4 * x * x)
		// μ = 4: (μ−1) = 3, (μ−9) = −5, (μ−25) = −21, (μ−49) = −45
		return (1 - q*3/2*(1+q*5*3/4*(1+q*21*5/6*(1+q*45*7/8)))) / (2 * x)
	}
	w := x * x / 4
	i, term := 0., x/2
	for k := 1.; term > 1e-17*i; k++ {
		i += term
		term *= w / (k * (k + 1))
	}
	const h = 1.0 / 16
	sum := math.Exp(-x) / 2
	for t := h; ; t += h {
		c := math.Cosh(t)
		term := c * math.Exp(-x*c)
		sum += term
		if x*c > 40 {
			break
		}
	}
	return i * h * sum
}

// UnflangedFit approximates [UnflangedPipe] for ka < 1.5: |R| within 0.005, δ
// within 0.002 a. Being a fit about 0.6133 it misses the accurate δ by the
// same 0.0006 at low ka.
//
// Source: J.-P. Dalmont, C. J. Nederveen, N. Joly, J. Sound Vib. 244 (2001)
// 505-534.
func UnflangedFit(ka float64) (absR, length float64) {
	q := ka * ka
	s := math.Sin(2 * ka)
	return (1 + 0.2*ka - 0.084*q) / (1 + 0.2*ka + (0.5-0.084)*q),
		Free * ((1+0.044*q)/(1+0.19*q) - 0.02*s*s)
}

// FlangedFit returns |R| and the end correction δ in units of a for a round
// pipe that opens in an infinite flange, ka < 3.5: |R| within 0.009, δ within
// 0.012 a.
//
// Source: A. N. Norris & I. C. Sheng, J. Sound Vib. 135 (1989) 85-93.
func FlangedFit(ka float64) (absR, length float64) {
	q := ka * ka
	m := 0.77 * ka
	return (1 + 0.323*ka - 0.077*q) / (1 + 0.323*ka + (1-0.077)*q),
		0.8216 / (1 + m*m/(1+m))
}
