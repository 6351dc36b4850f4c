package response

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"ocarina/air"
	"ocarina/design"
	"ocarina/network"
)

// wilds is how many random designs a law is tried on.
const wilds = 200

// pitches returns n frequencies between 5 Hz and 2 kHz.
func pitches(r *rand.Rand, n int) (f []float64) {
	for range n {
		f = append(f, 5*math.Pow(400, r.Float64()))
	}
	return f
}

// The power every source gives is found again in the losses and the radiation,
// each part's counted for itself.
func TestPowerIsKept(t *testing.T) {
	worst := 0.0
	eachWild(t, wilds, false, func(t *testing.T, _ uint64, r *rand.Rand, m *design.Model) {
		b := NewBench(m)
		for _, f := range pitches(r, 6) {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			given := 0.0
			for i, d := range m.Drives {
				e, _ := d.Weight(b.Values, 2*math.Pi*f)
				given += real(e * cmplx.Conj(b.Current(i)))
			}
			lost := 0.0
			for _, p := range m.Parts {
				lost += p.Element.Budget(b.Workspace().Point(), b.Solution()).Loss
			}
			off := math.Abs(given-lost) / given
			worst = math.Max(worst, off)
			if !(off <= 1e-9) {
				t.Errorf("%.5g Hz: %.12g W given, %.12g W lost: %.2g apart", f, given, lost, off)
			}
		}
	})
	t.Logf("largest difference %.2g", worst)
}

// No part makes power of its own: every loss is positive.
func TestNoPartGivesPower(t *testing.T) {
	eachWild(t, wilds, false, func(t *testing.T, _ uint64, r *rand.Rand, m *design.Model) {
		b := NewBench(m)
		for _, f := range pitches(r, 4) {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			total := 0.0
			for _, p := range m.Parts {
				total += math.Abs(p.Element.Budget(b.Workspace().Point(), b.Solution()).Loss)
			}
			for _, p := range m.Parts {
				g := p.Element.Budget(b.Workspace().Point(), b.Solution())
				if g.Loss < -1e-12*total || g.Kinetic < 0 || g.Potential < 0 {
					t.Errorf("%s at %.5g Hz: %+v", p.Name, f, g)
				}
			}
		}
	})
}

// A source of volume at one place gives the pressure at another that the same
// source there gives here; an amplifier's current makes the pressure that the
// volume velocity makes as open-circuit voltage, with the opposite sign, as the
// motors are electrodynamic (McMillan, JASA 18, 1946); and amplifiers act on one
// another alike.
func TestReciprocity(t *testing.T) {
	worst := 0.0
	eachWild(t, wilds, false, func(t *testing.T, _ uint64, r *rand.Rand, m *design.Model) {
		b := NewBench(m)
		var at []network.Unknown
		for _, c := range m.Chambers {
			at = append(at, c.Pressure)
		}
		places := len(at)
		for _, d := range m.Drives {
			at = append(at, d.Supply.Current)
		}
		n := len(at)
		h := make([]complex128, n*n)
		for _, f := range pitches(r, 3) {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			b.Workspace().Reduce(at, h)
			equal := func(i, j int, there, back, self complex128) {
				// Where next to nothing comes through, what the two ends do to
				// themselves is the measure: sixteen digits hold no more.
				through := math.Max(cmplx.Abs(there), cmplx.Abs(back))
				off := cmplx.Abs(there-back) / math.Max(through, 1e-3*math.Sqrt(cmplx.Abs(self)))
				worst = math.Max(worst, off)
				if !(off <= 1e-9) {
					t.Errorf("%.5g Hz: %s to %s %.10g, back %.10g", f, m.Plan.Name(at[j]), m.Plan.Name(at[i]), there, back)
				}
			}
			for i := range n {
				for j := range i {
					there, back := h[i*n+j], h[j*n+i] // what a source at j does at i
					if there == 0 && back == 0 {
						continue // no way between them
					}
					self := h[i*n+i] * h[j*n+j]
					if i >= places && j < places {
						y := h[i*n+i]                   // current per volt
						flow := complex(0, 2*math.Pi*f) // volume velocity of a unit source
						there = there / flow / y        // less the voltage per volume velocity that stops the current
						back = back / y                 // pressure per current
						self = h[j*n+j] / flow / y
					}
					equal(i, j, there, back, self)
				}
			}
		}
	})
	t.Logf("largest difference %.2g", worst)
}

// The load of an amplifier takes power at every frequency, whatever the other
// amplifiers' terminals are shorted by.
func TestLoadsArePassive(t *testing.T) {
	eachWild(t, wilds, false, func(t *testing.T, _ uint64, r *rand.Rand, m *design.Model) {
		b := NewBench(m)
		n := len(m.Drives)
		at := make([]network.Unknown, n)
		for i, d := range m.Drives {
			at[i] = d.Supply.Current
		}
		y := make([]complex128, n*n)
		for _, f := range pitches(r, 10) {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			b.Workspace().Reduce(at, y)
			positive(t, "admittance of the amplifiers' loads", f, n, y)
		}
	})
}

// positive demands that the Hermitian part of a matrix has no negative
// eigenvalue.
func positive(t *testing.T, what string, f float64, n int, z []complex128) {
	t.Helper()
	// The Hermitian matrix A + jB has the eigenvalues of [A −B; B A], twice.
	s := mat.NewSymDense(2*n, nil)
	trace := 0.0
	for i := range n {
		trace += math.Abs(real(z[i*n+i]))
		for j := range n {
			h := (z[i*n+j] + cmplx.Conj(z[j*n+i])) / 2
			s.SetSym(i, j, real(h))
			s.SetSym(n+i, n+j, real(h))
			s.SetSym(i, n+j, -imag(h))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(s, false) {
		t.Fatalf("%s at %.5g Hz: no eigenvalues", what, f)
	}
	if least := e.Values(nil)[0]; !(least >= -1e-12*trace) {
		t.Errorf("%s at %.5g Hz gives power: eigenvalue %.3g of trace %.3g", what, f, least, trace)
	}
}

// The outside takes power from every motion of the openings: the resistance
// matrix they see, each with the weight of its count, has no negative
// eigenvalue. Random clusters in all four spaces, touching ones among them, up
// to wavelengths shorter than the openings.
func TestOutsideTakesPower(t *testing.T) {
	r := rand.New(rand.NewPCG(lawSeed, 3))
	for trial := range 400 {
		n := 2 + r.IntN(5)
		values := []float64{1}
		value := func(v float64) network.Value {
			values = append(values, v)
			return network.Value(len(values) - 1)
		}
		out := &network.FreeSpace{Angle: []float64{4 * math.Pi, 2 * math.Pi, math.Pi, math.Pi / 2}[trial%4], Mutual: true, Air: air.Reference(),
			Listener: [3]network.Value{network.None, network.None, network.None}}
		var o []network.Opening
		var at [][3]float64
		var radius []float64
		for len(o) < n {
			a := 0.01 * math.Pow(20, r.Float64())
			p := [3]float64{}
			if len(o) > 0 { // touching a random other one
				k := r.IntN(len(o))
				angle := 2 * math.Pi * r.Float64()
				d := a + radius[k]
				p = [3]float64{at[k][0] + d*math.Cos(angle), at[k][1] + d*math.Sin(angle), 0}
			}
			clear := true
			for k := range at {
				clear = clear && math.Hypot(p[0]-at[k][0], p[1]-at[k][1]) >= (a+radius[k])*(1-1e-12)
			}
			if !clear {
				continue
			}
			at, radius = append(at, p), append(radius, a)
			count := 1.0
			if r.IntN(4) == 0 {
				count = float64(2 + r.IntN(5))
			}
			o = append(o, network.Opening{Pressure: network.Unknown(len(o)), Flow: network.Unknown(len(o)), Factor: network.None, Sign: 1, Count: count,
				Area: value(math.Pi * a * a), Mass: r.IntN(2) == 0, Place: [3]network.Value{value(p[0]), value(p[1]), value(p[2])}})
		}
		z := make([]complex128, n*n)
		for range 10 {
			f := 5 * math.Pow(1000, r.Float64())
			clear(z)
			out.Impedance(&network.Point{Omega: 2 * math.Pi * f, Values: values}, o, z)
			for k := range n {
				for l := range n {
					members := o[l].Count
					if k == l {
						members = 1
					}
					z[k*n+l] *= complex(o[k].Count*members, 0)
				}
			}
			positive(t, "radiation", f, n, z)
		}
		if t.Failed() {
			t.Fatalf("seed %d, trial %d: %+v", lawSeed, trial, o)
		}
	}
}
