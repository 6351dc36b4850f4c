package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/design"
	"ocarina/network"
	"ocarina/response"
	"ocarina/tone/balance"
)

// bare is a driver on a chamber as large as a hall, its inductance and the air's
// load left out, so that its equations can be solved by hand.
const bare = `
driver "unit" {
  re   = "6 ohm"
  fs   = "50 Hz"
  qms  = 3
  qes  = 0.5
  mms  = "20 g"
  sd   = "200 cm2"
  xmax = "5 mm"
  large {
    bl_shape  = [%g]
    kms_shape = [0, %g]
  }
}
chamber "box" { volume = "1000 m3" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
listen { radiation = "none" }
drive { voltage = "1 V" }
`

// at solves one tone at one drive.
func at(t testing.TB, m *design.Model, f, drive float64, o Options) (*climber, *balance.State) {
	t.Helper()
	a, err := assemble(m)
	if err != nil {
		t.Fatal(err)
	}
	o.Tones = []float64{f}
	if o, err = o.filled(m); err != nil {
		t.Fatal(err)
	}
	c, err := a.climber(f, o, o.Harmonics)
	if err != nil {
		t.Fatal(err)
	}
	s, err := c.to(drive / c.unit)
	if err != nil {
		t.Fatal(err)
	}
	return c, s
}

// byHand are the constants of a bare driver; its spring has the chamber's in it.
type byHand struct{ k, suspension, m, r, bl, re float64 }

func hand(m *design.Model) byHand {
	v := m.Graph.Values()
	d, c := m.Mounts[0].Diaphragm, m.Mounts[0].Coil
	air := v[d.Area] * v[d.Area] * m.Air.Stiffness() / v[m.Chambers[0].Volume]
	return byHand{1/v[d.Compliance] + air, 1 / v[d.Compliance], v[d.Mass], v[d.Resistance], v[c.ForceFactor], v[c.Resistance]}
}

// impedance is force over displacement with the motor's damping.
func (h byHand) impedance(omega float64) complex128 {
	return complex(h.k-omega*omega*h.m, omega*(h.r+h.bl*h.bl/h.re))
}

// TestDuffing holds a spring K·(1 + ε·(x/xmax)²) to the textbook's first order
// (Nayfeh & Mook, Nonlinear Oscillations, 1979, ch. 4):
//
//	(Z(ω) + ¾·Kε/xmax²·|X|²)·X = F,  X₃ = −¼·Kε/xmax²·X³/Z(3ω)
//
// in peak phasors. What is left falls with the square of what X₃ is to X.
func TestDuffing(t *testing.T) {
	const eps, xmax = 0.4, 5e-3
	m := read(t, fmt.Sprintf(bare, 0.0, eps))
	h := hand(m)
	for _, f := range []float64{20, 50, 90} {
		omega := 2 * math.Pi * f
		for _, volts := range []float64{0.2, 2} {
			_, s := at(t, m, f, volts, Options{Cold: true})
			x := math.Sqrt2 * s.Displacement(0, 1)
			x3 := math.Sqrt2 * s.Displacement(0, 3)
			g := h.suspension * eps / (xmax * xmax)
			force := (h.impedance(omega) + complex(0.75*g*real(x*cmplx.Conj(x)), 0)) * x
			want := complex(h.bl/h.re*volts*math.Sqrt2, 0)
			small := cmplx.Abs(x3 / x)
			if e := cmplx.Abs(force/want - 1); e > 3*small*cmplx.Abs(complex(g*real(x*cmplx.Conj(x)), 0)*x/want)+1e-9 {
				t.Errorf("%g Hz, %g V: fundamental off by %.3g, harmonic is %.3g of it", f, volts, e, small)
			}
			wantX3 := -complex(g/4, 0) * x * x * x / h.impedance(3*omega)
			if e := cmplx.Abs(x3/wantX3 - 1); e > 10*small+3*g*real(x*cmplx.Conj(x))/cmplx.Abs(h.impedance(3*omega))+1e-8 {
				t.Errorf("%g Hz, %g V: third harmonic off by %.3g, it is %.3g of the fundamental", f, volts, e, small)
			}
		}
		// At a hundredth of xmax the first order is all there is.
		_, s := at(t, m, f, 0.05, Options{Cold: true})
		x := math.Sqrt2 * s.Displacement(0, 1)
		want := -complex(h.suspension*eps/(xmax*xmax)/4, 0) * x * x * x / h.impedance(3*omega)
		if e := cmplx.Abs(math.Sqrt2*s.Displacement(0, 3)/want - 1); e > 1e-4 {
			t.Errorf("%g Hz: third harmonic of a small motion off by %.3g", f, e)
		}
	}
}

// TestQuadraticMotor holds Bl(x) = Bl·(1 + b·x) to its first order in b, by
// perturbation of E = Re·i + Bl(x)·v and Z·x = Bl(x)·i:
//
//	Z(2ω)·X₂ = ½·Bl·b·(X·I − Bl/Re·X·jωX),  K·X₀ = ½·Bl·b·Re(X·I*)
func TestQuadraticMotor(t *testing.T) {
	const shape, xmax = -0.15, 5e-3
	m := read(t, fmt.Sprintf(bare, shape, 0.0))
	h := hand(m)
	b := shape / xmax
	for _, f := range []float64{15, 40, 70, 150} {
		omega := 2 * math.Pi * f
		_, s := at(t, m, f, 0.02, Options{Cold: true})
		x, i := math.Sqrt2*s.Displacement(0, 1), math.Sqrt2*s.Current(0, 1)
		x2 := math.Sqrt2 * s.Displacement(0, 2)
		want := complex(h.bl*b/2, 0) * (x*i - complex(h.bl/h.re, 0)*x*complex(0, omega)*x) / h.impedance(2*omega)
		if e := cmplx.Abs(x2/want - 1); e > 1e-4 {
			t.Errorf("%g Hz: second harmonic off by %.3g", f, e)
		}
		offset := h.bl * b / 2 * real(x*cmplx.Conj(i)) / h.k
		if got := real(s.Displacement(0, 0)); math.Abs(got/offset-1) > 1e-4 {
			t.Errorf("%g Hz: offset %.6g m, want %.6g", f, got, offset)
		}
	}
}

// TestSmallDrive holds every signal to the linear network at a drive that is
// next to nothing.
func TestSmallDrive(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	bench := response.NewBench(m)
	for _, f := range []float64{40, 112, 144, 192, 252, 400} {
		c, s := at(t, m, f, 2.83e-7, Options{})
		if err := bench.Solve(f); err != nil {
			t.Fatal(err)
		}
		k := complex(1e-7, 0)
		close := func(what string, got, want complex128) {
			if e := cmplx.Abs(got/(want*k) - 1); !(e < 1e-6) {
				t.Errorf("%g Hz: %s is off by %.3g", f, what, e)
			}
		}
		x := bench.Solution()
		close("displacement", s.Displacement(0, 1), x[m.Mounts[0].Diaphragm.Displacement])
		close("current", s.Current(0, 1), x[m.Mounts[0].Coil.Current])
		close("pressure", s.At(c.listener, 1), bench.Pressure())
		all := make([]complex128, m.Plan.Unknowns())
		s.Solution(1, all)
		for u := range all {
			close(m.Plan.Name(network.Unknown(u)), all[u], x[u])
		}
	}
}

// balanceOfPower returns what the amplifiers give and what everything turns into
// heat or radiates, over all lines, from energies of each part.
func balanceOfPower(c *climber, s *balance.State) (given, spent float64) {
	m := c.a.m
	values := c.a.net.Values
	all := make([]complex128, m.Plan.Unknowns())
	for l, line := range c.p.Lines {
		if line.Frequency == 0 {
			continue
		}
		s.Solution(l, all)
		point := &network.Point{Omega: 2 * math.Pi * line.Frequency, Values: values}
		// A duct reckons the pressure inside its to end from that outside.
		held := map[network.Element]complex128{}
		for r := range c.a.net.Rims {
			rim := &c.a.net.Rims[r]
			if rim.End == 1 {
				held[rim.Duct] = s.Loss(r, l)
			}
			u := complex(0, point.Omega) * all[rimFlow(rim)]
			spent += rim.Duct.Count * real(s.Loss(r, l)*cmplx.Conj(u))
		}
		for _, p := range m.Parts {
			x := all
			if d, ok := p.Element.(*network.Duct); ok && held[d] != 0 {
				x = append([]complex128(nil), all...)
				x[d.To] += held[d]
			}
			spent += p.Element.Budget(point, x).Loss
		}
		if l == 1 {
			for i, source := range c.a.net.Sources {
				e := complex(s.Drive, 0) * source.Weight(point.Omega)
				given += real(e * cmplx.Conj(s.At(c.currents[i], 1)))
			}
		}
	}
	for i, v := range m.Mounts {
		spent += v.Count * s.Added[i] * s.Heating(i)
	}
	return given, spent
}

func rimFlow(r *balance.Rim) network.Unknown {
	if r.End == 0 {
		return r.Duct.Entry
	}
	return r.Duct.Flow
}

// lopsided is a box in which everything that can change does.
const lopsided = `
driver "unit" {
  re    = "5.6 ohm"
  le    = "0.9 mH"
  fs    = "38 Hz"
  qms   = 5
  qes   = 0.4
  vas   = "25 L"
  sd    = "150 cm2"
  xmax  = "5 mm"
  xmech = "8 mm"
  power = "80 W"
  large {
    bl_shape  = [0.08, -0.17, -0.02]
    kms_shape = [-0.1, 0.3]
    le_shape  = [-0.2, 0.05]
    i         = ["-20 A", "0 A", "20 A"]
    le_at_i   = ["0.6 mH", "0.9 mH", "0.65 mH"]
  }
}
chamber "near" {
  volume = "10 L"
  walls  = "real"
  leak_q = 60
  leak_at = "50 Hz"
}
chamber "far" {
  volume = "16 L"
  fill   = 0.3
}
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.near
}
port "inner" {
  from = chamber.near
  to = chamber.far
  diameter = "60 mm"
  length = "50 mm"
  edges = ["rounded", "sharp"]
  edge_radius = "6 mm"
}
port "mouth" {
  from = chamber.far
  to = outside
  size = ["40 mm", "90 mm"]
  length = "140 mm"
  count = 2
  edges = ["sharp", "flared"]
  edge_radius = "20 mm"
}
drive {
  voltage = "1 V"
  source_resistance = "0.2 ohm"
}
`

// crowd has several drivers of several members, a passive radiator, a line that
// is closed at one end and one that tapers to the outside.
const crowd = `
driver "small" {
  re    = "6.4 ohm"
  le    = "0.5 mH"
  fs    = "55 Hz"
  qms   = 4
  qes   = 0.5
  vas   = "8 L"
  sd    = "90 cm2"
  xmax  = "3.5 mm"
  power = "40 W"
  large { bl_offset = "0.3 mm" }
}
driver "large" {
  re    = "5.2 ohm"
  fs    = "36 Hz"
  qms   = 6
  qes   = 0.45
  vas   = "40 L"
  sd    = "210 cm2"
  xmax  = "5 mm"
  power = "90 W"
  coil {
    k = 0.02
    n = 0.7
  }
}
chamber "box" { volume = "22 L" }
junction "meet" {}
mount "pair" {
  driver = driver.small
  front  = outside
  rear   = chamber.box
  count  = 2
  wiring = "series"
}
mount "deep" {
  driver   = driver.large
  front    = chamber.box
  rear     = junction.meet
  reversed = true
}
passive "drone" {
  sd    = "200 cm2"
  fs    = "28 Hz"
  qms   = 8
  vas   = "60 L"
  front = outside
  rear  = chamber.box
}
line "stub" {
  from = junction.meet
  to   = closed
  section {
    length = "300 mm"
    area   = "60 cm2"
  }
}
line "horn" {
  from = junction.meet
  to   = outside
  section {
    length  = "500 mm"
    area    = "50 cm2"
    to_area = "150 cm2"
    shape   = "conical"
  }
}
drive { voltage = "1 V" }
`

func TestPowerBalances(t *testing.T) {
	powerBalances(t, lopsided)
	powerBalances(t, crowd)
}

func powerBalances(t *testing.T, text string) {
	t.Helper()
	m := read(t, text)
	for _, f := range []float64{22, 34, 48, 70, 130} {
		for _, volts := range []float64{0.1, 5, 20} {
			c, s := at(t, m, f, volts, Options{Harmonics: 20})
			given, spent := balanceOfPower(c, s)
			if e := math.Abs(spent/given - 1); !(e < 1e-6) || !(given > 0) {
				t.Errorf("%g Hz, %g V: %.9g W given, %.9g W spent: off by %.3g", f, volts, given, spent, e)
			}
		}
	}
}

// TestQuadraticPort holds the loss at a port's rim to its closed form: for a
// speed of one frequency, the fundamental of ½ρK|u|u is that of a resistance
// ½ρK·(8/3π)·|U| (Ingard & Ising, JASA 42, 1967). A linear box that has this
// resistance in its port must give the same speed.
func TestQuadraticPort(t *testing.T) {
	text := func(resistance float64) string {
		return fmt.Sprintf(`
driver "unit" {
  re  = "6 ohm"
  fs  = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "30 L"
  sd  = "150 cm2"
}
chamber "box" { volume = "20 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from = chamber.box
  to = outside
  diameter = "60 mm"
  length = "0.1 mm" // its mass is in its ends, so that all rims see one speed
  end_correction = ["90 mm", "100 mm"]
  resistance = "%.12g Pa*s/m3"
}
drive { voltage = "1 V" }
`, resistance)
	}
	for _, f := range []float64{25, 38, 60} {
		for _, volts := range []float64{1, 5, 25} {
			m := read(t, text(0))
			a, err := assemble(m)
			if err != nil {
				t.Fatal(err)
			}
			// Only the outer rim, and only the fundamental.
			a.net.Rims = a.net.Rims[1:]
			p, err := a.net.Tone(f, 1)
			if err != nil {
				t.Fatal(err)
			}
			s, err := p.Follow().To(volts)
			if err != nil {
				t.Fatal(err)
			}
			u := s.Speed(0, 1)
			k := (a.net.Rims[0].Edge.In + a.net.Rims[0].Edge.Out) / 2
			area := a.net.Values[a.net.Rims[0].Area]
			r := m.Air.Density / 2 * k * 8 / (3 * math.Pi) * math.Sqrt2 * cmplx.Abs(u) / area
			damped := read(t, text(r))
			bench := response.NewBench(damped)
			if err := bench.Solve(f); err != nil {
				t.Fatal(err)
			}
			want := complex(0, 2*math.Pi*f*volts/area) * bench.Solution()[damped.Ports[0].Sections[0].Flow]
			// What is left is how well even steps of a period take the kink of |u|u.
			if e := cmplx.Abs(u/want - 1); e > 2e-5 {
				t.Errorf("%g Hz, %g V: %.6g m/s, want %.6g: off by %.3g", f, volts, u, want, e)
			}
			// With all harmonics the fundamental hardly moves.
			full, err := a.net.Tone(f, 20)
			if err != nil {
				t.Fatal(err)
			}
			s, err = full.Follow().To(volts)
			if err != nil {
				t.Fatal(err)
			}
			if e := cmplx.Abs(s.Speed(0, 1)/want - 1); e > 0.01 {
				t.Errorf("%g Hz, %g V: with harmonics %.6g m/s, want %.6g", f, volts, s.Speed(0, 1), want)
			}
		}
	}
}

// TestRandomBoxes: every ladder of its own choosing is climbed to the top, where
// power still balances.
func TestRandomBoxes(t *testing.T) {
	const seed = 20
	rng := rand.New(rand.NewPCG(seed, 1))
	draw := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, rng.Float64()) }
	for n := range 12 {
		text := fmt.Sprintf(`
driver "unit" {
  re    = "%.4g ohm"
  le    = "%.4g mH"
  fs    = "%.4g Hz"
  qms   = %.4g
  qes   = %.4g
  vas   = "%.4g L"
  sd    = "%.4g cm2"
  xmax  = "%.4g mm"
  power = "%.4g W"
  large {
    bl_offset     = "%.3g mm"
    cms_asymmetry = %.3g
  }
}
chamber "near" { volume = "%.4g L" }
chamber "far" { volume = "%.4g L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.near
}
port "inner" {
  from = chamber.near
  to = chamber.far
  diameter = "%.4g mm"
  length = "%.4g mm"
}
port "mouth" {
  from = chamber.far
  to = outside
  diameter = "%.4g mm"
  length = "%.4g mm"
}
tones = ["%.4g Hz", "%.4g Hz"]
`, draw(2, 12), draw(0.1, 2), draw(25, 90), draw(2, 8), draw(0.2, 1), draw(5, 100), draw(50, 600), draw(2, 10), draw(10, 300),
			draw(0.1, 1), rng.Float64()*0.4-0.2, draw(3, 40), draw(3, 60), draw(30, 120), draw(10, 300), draw(30, 120), draw(10, 300), draw(20, 60), draw(60, 250))
		m := read(t, text)
		l, err := Predict(m, Options{})
		if err != nil {
			t.Fatalf("seed %d, box %d: %v\n%s", seed, n, err, text)
		}
		for _, tone := range l.Tones {
			if tone.LostAbove != nil {
				t.Errorf("seed %d, box %d, %g Hz: nothing found above %g V", seed, n, tone.Frequency, *tone.LostAbove)
			}
			last := tone.Steps[len(tone.Steps)-1]
			c, s := at(t, m, tone.Frequency, last.Voltage, Options{})
			given, spent := balanceOfPower(c, s)
			if e := math.Abs(spent/given - 1); !(e < 1e-5) {
				t.Errorf("seed %d, box %d, %g Hz, %g V: power off by %.3g", seed, n, tone.Frequency, last.Voltage, e)
			}
		}
	}
}
