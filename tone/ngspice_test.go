package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/internal/need"
)

// transient is a box as a circuit with behavioural sources, for integration in
// time by ngspice. Velocities, pressures and voltages are node voltages; forces
// and volume flows are currents. Ducts are ideal lines (T elements) with the
// masses of their ends as inductors.
type transient struct {
	name      string
	design    string
	frequency float64
	voltage   float64
	cycles    int     // until it is periodic
	second    float64 // Hz, another tone at a quarter of the voltage, or 0
	base      float64 // Hz, what both are multiples of
	// Bl(x)/Bl(0), K(x)/K(0)·x in mm, Le(x)/Le(0) and Le(i)/Le(0) as expressions
	// of X, the displacement in mm, and I, the current in A.
	bl, kx, lx, li string
	slope          string // d(lx)/dX, per mm
	in, out        float64
}

const unit = `
driver "unit" {
  re    = "5.6 ohm"
  le    = "0.6 mH"
  fs    = "42 Hz"
  qms   = 4
  qes   = 0.45
  vas   = "18 L"
  sd    = "140 cm2"
  xmax  = "4 mm"
  %s
}
air {
  density = "1.2 kg/m3"
  speed = "344 m/s"
}
listen { radiation = "none" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
drive { voltage = "1 V" }
`

const sealed = unit + `chamber "box" { volume = "9 L" }`

const vented = unit + `
chamber "box" { volume = "14 L" }
port "vent" {
  from = chamber.box
  to = outside
  diameter = "60 mm"
  length = "110 mm"
  walls = "ideal"
  %s
}`

const linked = unit + `
chamber "box" { volume = "6 L" }
chamber "far" { volume = "9 L" }
port "inner" {
  from = chamber.box
  to = chamber.far
  diameter = "55 mm"
  length = "40 mm"
  walls = "ideal"
}
port "vent" {
  from = chamber.far
  to = outside
  diameter = "60 mm"
  length = "90 mm"
  walls = "ideal"
}`

// The curves of a published xmax of 4 mm, written out from their definition:
// 82 % of Bl and 75 % of Cms there.
const (
	fallingBl = "(1/(1+0.0137195122*X*X))" // 1/0.82 − 1 over 4²
	risingK   = "(X*(1+X*X/48))"           // 1/3 over 4²
)

var transients = []transient{
	{name: "sealed, mild", design: fmt.Sprintf(sealed, ""), frequency: 60, voltage: 3, cycles: 40,
		bl: fallingBl, kx: risingK},
	{name: "sealed, at its limit and lopsided", frequency: 35, voltage: 9, cycles: 40,
		design: fmt.Sprintf(sealed, `large {
			bl_shape  = [0.06, -0.16, -0.02]
			kms_shape = [-0.12, 0.25]
		}`),
		// Products, as ngspice takes a power's base without its sign.
		bl: "(1+0.06*X/4-0.16*X*X/16-0.02*X*X*X/64)", kx: "(X*(1-0.12*X/4+0.25*X*X/16))"},
	{name: "sealed, beyond its limit", design: fmt.Sprintf(sealed, ""), frequency: 30, voltage: 25, cycles: 40,
		bl: fallingBl, kx: risingK},
	{name: "sealed, inductance", frequency: 220, voltage: 30, cycles: 60,
		design: fmt.Sprintf(sealed, `large {
			le_shape = [-0.25, 0.03]
		}`),
		bl: fallingBl, kx: risingK, lx: "(1-0.25*X/4+0.03*X*X/16)", slope: "(-0.25/4+0.06*X/16)"},
	{name: "sealed, saturating iron", frequency: 150, voltage: 25, cycles: 50,
		design: fmt.Sprintf(sealed, `large {
			le_shape = [-0.1]
			i        = ["-10 A", "0 A", "10 A"]
			le_at_i  = ["0.36 mH", "0.6 mH", "0.36 mH"]
		}`),
		// Through these three runs a parabola.
		bl: fallingBl, kx: risingK, lx: "(1-0.1*X/4)", slope: "(-0.1/4)", li: "(1-0.004*I*I)"},
	{name: "vented, at its tuning", design: fmt.Sprintf(vented, "", ""), frequency: 46, voltage: 12, cycles: 40,
		bl: fallingBl, kx: risingK, in: 0.5, out: 1},
	{name: "vented, rounded", design: fmt.Sprintf(vented, "", `edges = ["rounded", "rounded"]
		edge_radius = "9 mm"`), frequency: 60, voltage: 20, cycles: 40,
		bl: fallingBl, kx: risingK, in: 0.03 + 0.47*0.0699842, out: 1}, // 10^(−7.7·0.15)
	{name: "linked chambers, hard", design: fmt.Sprintf(linked, ""), frequency: 70, voltage: 28, cycles: 45,
		bl: fallingBl, kx: risingK, in: 0.5, out: 1},
	// Its curves are the same both ways, and yet it does not stay in the middle.
	{name: "tipping over", design: fmt.Sprintf(strings.Replace(sealed, "9 L", "90 L", 1), `large {
			xmax_by = "bl"
		}`), frequency: 95, voltage: 35, cycles: 100,
		bl: fallingBl, kx: "X"},
	{name: "striking", frequency: 33, voltage: 16, cycles: 45,
		design: fmt.Sprintf(sealed, `xmech = "5 mm"`),
		bl:     fallingBl, kx: "(X*(1+X*X/48)+26.6666667*max(abs(X)-5,0)**3*sgn(X))"}, // 2000/5²/3
}

// netlist writes the circuit of a case.
func (c *transient) netlist(m *design.Model, file string) string {
	v := m.Graph.Values()
	at := func(expression string) string {
		return strings.NewReplacer("X", "V(x)", "I", "V(i)").Replace(expression)
	}
	mount := m.Mounts[0]
	cone, coil := mount.Diaphragm, mount.Coil
	sd, mass, k := v[cone.Area], v[cone.Mass], 1/v[cone.Compliance]
	bl, le := v[coil.ForceFactor], v[coil.Inductance]
	lx, li := "1", "1"
	if c.lx != "" {
		lx = at(c.lx)
	}
	if c.li != "" {
		li = at(c.li)
	}
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p("* a box")
	if c.second > 0 {
		p("Vs in other SIN(0 %.12g %.12g 0 0 90)", c.voltage*math.Sqrt2, c.frequency)
		p("Vo other 0 SIN(0 %.12g %.12g 0 0 90)", c.voltage*math.Sqrt2/4, c.second)
	} else {
		p("Vs in 0 SIN(0 %.12g %.12g)", c.voltage*math.Sqrt2, c.frequency)
	}
	p("Rre in a %.12g", v[coil.Resistance])
	// The flux in mVs is the charge of a millifarad; the current follows from it.
	p("Bflux 0 flux I=V(a,b)")
	p("Cflux flux 0 1m")
	p("Bi 0 i I=1e3*(V(flux)/1e3-%.12g*%s*%s*V(i))", le, lx, li)
	p("Ri i 0 1e12")
	p("Bcoil a b I=V(i)")
	p("Bback b 0 V=%.12g*%s*V(v)", bl, at(c.bl))
	p("Cmass v 0 %.12g", mass)
	p("Rloss v 0 %.12g", 1/v[cone.Resistance])
	p("Bmotor 0 v I=%.12g*%s*V(i)", bl, at(c.bl))
	p("Bspring v 0 I=%.12g*%s/1e3", k, at(c.kx))
	p("Bx 0 x I=V(v)")
	p("Cx x 0 1m")
	p("Bair 0 v I=%.12g*V(pbox)", sd)
	p("Brear pbox 0 I=%.12g*V(v)", sd)
	if c.slope != "" {
		// ½ i² dLe/dx; where the iron saturates ∫ Le(i)·i di of the same curve.
		half := "V(i)**2/2"
		if c.li != "" {
			half = "(V(i)**2/2-0.004*V(i)**4/4)"
		}
		p("Bpull 0 v I=%.12g*1e3*%s*%s", le, at(c.slope), half)
	}
	for _, chamber := range m.Chambers {
		p("C%s p%s 0 %.12g", chamber.Name, chamber.Name, v[chamber.Volume]/m.Air.Stiffness())
		p("R%s p%s 0 1e15", chamber.Name, chamber.Name)
	}
	outputs := "v(x) v(i)"
	for _, port := range m.Ports {
		d := port.Sections[0]
		s := v[d.Area]
		node := func(place design.Place) string {
			if place.Kind == design.Outside {
				return "0"
			}
			return "p" + place.Name
		}
		n := port.Name
		loss := func(from, to, sense string, onward, back float64) {
			k := m.Air.Density / 2 / (s * s)
			p("B%s%s %s %s V=%.12g*I(V%s)*abs(I(V%s))*(I(V%s)>0 ? %.12g : %.12g)", n, sense, from, to, k, sense+n, sense+n, sense+n, onward, back)
		}
		p("Ve%s %s %s1 0", n, node(port.From), n)
		loss(n+"1", n+"2", "e", c.in, c.out)
		p("Le%s %s2 %s3 %.12g", n, n, n, m.Air.Density*v[d.Mass[0]]/s)
		p("T%s %s3 0 %s4 0 Z0=%.12g TD=%.12g", n, n, n, m.Air.Density*m.Air.Speed/s, v[d.Length]/m.Air.Speed)
		p("Lf%s %s4 %s5 %.12g", n, n, n, m.Air.Density*v[d.Mass[1]]/s)
		loss(n+"5", n+"6", "f", c.out, c.in)
		p("Vf%s %s6 %s 0", n, n, node(port.To))
		outputs += " i(ve" + n + ") i(vf" + n + ")"
	}
	period := 1 / c.frequency
	end, begin := period*float64(c.cycles+5), period*float64(c.cycles)
	if c.second > 0 {
		begin = float64(c.cycles) / c.base
		end = begin + 1.5/c.base
		period = 1 / c.second
	}
	p(".options reltol=1e-6 abstol=1e-13 vntol=1e-9 method=trap")
	p(".control")
	p("tran %.9g %.9g %.9g %.9g uic", period/1000, end, begin, period/1200)
	p("set wr_singlescale")
	p("wrdata %s %s", file, outputs)
	p("quit")
	p(".endc")
	p(".end")
	return b.String()
}

// run integrates the circuit and returns rows of time and outputs.
func (c *transient) run(t *testing.T, m *design.Model, program string) [][]float64 {
	t.Helper()
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "deck.cir"), []byte(c.netlist(m, "out")), 0o644); err != nil {
		t.Fatal(err)
	}
	run := exec.Command(program, "-b", "deck.cir")
	run.Dir = folder
	log, err := run.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, log)
	}
	// wrdata names its file with an ending of its own in some releases.
	raw, err := os.ReadFile(filepath.Join(folder, "out"))
	if err != nil {
		if raw, err = os.ReadFile(filepath.Join(folder, "out.data")); err != nil {
			t.Fatalf("%v\n%s", err, log)
		}
	}
	var rows [][]float64
	for _, line := range strings.Split(strings.TrimSpace(string(raw)), "\n") {
		var row []float64
		for _, word := range strings.Fields(line) {
			v, err := strconv.ParseFloat(word, 64)
			if err != nil {
				t.Fatalf("%q: %v", line, err)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	if len(rows) < 4000 {
		t.Fatalf("%d points in time", len(rows))
	}
	return rows
}

// phasor returns one line of an output (RMS, or its mean at 0 Hz) over the last
// of its points in time.
func phasor(rows [][]float64, output int, frequency, span float64) complex128 {
	begin := rows[len(rows)-1][0] - span
	f := func(i int) complex128 {
		return complex(rows[i][output+1], 0) * cmplx.Rect(1, -2*math.Pi*frequency*rows[i][0])
	}
	var sum complex128
	for i := 1; i < len(rows); i++ {
		a, b := rows[i-1][0], rows[i][0]
		if b <= begin {
			continue
		}
		first := f(i - 1)
		if a < begin {
			w := complex((begin-a)/(b-a), 0)
			first, a = first*(1-w)+f(i)*w, begin
		}
		sum += (first + f(i)) * complex((b-a)/2, 0)
	}
	sum *= complex(1/span, 0)
	if frequency > 0 {
		sum *= math.Sqrt2
	}
	return sum
}

// spectra returns the harmonics of each output, 0 the mean, over the last four
// of five periods.
func (c *transient) spectra(t *testing.T, m *design.Model, program string) [][]complex128 {
	t.Helper()
	rows := c.run(t, m, program)
	list := make([][]complex128, len(rows[0])-1)
	for j := range list {
		for k := range 6 {
			list[j] = append(list[j], phasor(rows, j, float64(k)*c.frequency, 4/c.frequency))
		}
	}
	return list
}

func TestAgainstTransient(t *testing.T) {
	program := need.Program(t, "ngspice")
	for _, c := range transients {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := read(t, c.design)
			a, err := assemble(m)
			if err != nil {
				t.Fatal(err)
			}
			o, err := Options{Tones: []float64{c.frequency}, Cold: true}.filled(m)
			if err != nil {
				t.Fatal(err)
			}
			climb, err := a.climber(c.frequency, o, o.Harmonics)
			if err != nil {
				t.Fatal(err)
			}
			s, err := climb.to(c.voltage)
			if err != nil {
				t.Fatal(err)
			}
			want := c.spectra(t, m, program)
			if real(want[0][0])*real(s.Displacement(0, 0)) < 0 {
				mirror(want) // as good a state of a symmetric driver
			}
			xs, is := want[0], want[1]
			compare(t, "displacement, mm", xs, func(k int) complex128 { return s.Displacement(0, k) * 1000 })
			compare(t, "current, A", is, func(k int) complex128 { return s.Current(0, k) })
			sd := a.net.Values[m.Mounts[0].Diaphragm.Area]
			pressure := make([]complex128, 6)
			far := m.Air.Density / (2 * math.Pi)
			omega := func(k int) complex128 { return complex(0, 2*math.Pi*c.frequency*float64(k)) }
			for k := 1; k < 6; k++ {
				pressure[k] = omega(k) * complex(far*sd, 0) * omega(k) * xs[k] / 1000
			}
			for r, rim := range a.net.Rims {
				flow := want[2+r]
				area := a.net.Values[rim.Area]
				name := ""
				for _, port := range m.Ports {
					if port.Sections[0] == rim.Duct {
						name = port.Name
					}
				}
				compare(t, fmt.Sprintf("%s %d, m/s", name, rim.End), scaled(flow, 1/area), func(k int) complex128 { return s.Speed(r, k) })
				if name == "vent" && rim.End == 1 {
					for k := 1; k < 6; k++ {
						pressure[k] += omega(k) * complex(far, 0) * flow[k]
					}
				}
			}
			compare(t, "pressure, Pa", pressure, func(k int) complex128 {
				if k == 0 {
					return 0
				}
				return s.At(climb.listener, k)
			})
		})
	}
}

// mirror turns a state of a symmetric driver into the one on its other side:
// half a period later and upside down.
func mirror(list [][]complex128) {
	for _, h := range list {
		for k := 0; k < len(h); k += 2 {
			h[k] = -h[k]
		}
	}
}

func scaled(z []complex128, k float64) []complex128 {
	out := make([]complex128, len(z))
	for i := range z {
		out[i] = z[i] * complex(k, 0)
	}
	return out
}

// compare holds the prediction to 0.002 dB of the fundamental, 0.02 dB of the
// second to fifth harmonic where above −60 dB, and 0.2 % of an offset above a
// thousandth of the fundamental. That is a tenth and less of what is asked of
// the prediction (0.05 dB, 0.3 dB, 2 %), and ten times what is seen.
func compare(t *testing.T, what string, want []complex128, got func(k int) complex128) {
	t.Helper()
	one := cmplx.Abs(want[1])
	text := fmt.Sprintf("%s: %.4g", what, one*math.Sqrt2)
	for k := 1; k < len(want); k++ {
		below := 20 * math.Log10(cmplx.Abs(want[k])/one)
		d := 20 * math.Log10(cmplx.Abs(got(k))/cmplx.Abs(want[k]))
		text += fmt.Sprintf("  H%d %.2f dB %+.4f", k, below, d)
		limit := 0.02
		if k == 1 {
			limit = 0.002
		}
		if below > -60 && !(math.Abs(d) <= limit) {
			t.Errorf("%s harmonic %d at %.1f dB: off by %.4f dB", what, k, below, d)
		}
	}
	a, b := real(got(0)), real(want[0])
	text += fmt.Sprintf("  offset %.5g, want %.5g", a, b)
	if math.Abs(b) > 1e-3*one && !(math.Abs(a-b) <= 0.002*math.Abs(b)) {
		t.Errorf("%s offset: %.6g, want %.6g", what, a, b)
	}
	t.Log(text)
}

// TestTwoTonesAgainstTransient holds what two tones make of one another to
// integration in time.
func TestTwoTonesAgainstTransient(t *testing.T) {
	program := need.Program(t, "ngspice")
	t.Parallel()
	c := transient{design: fmt.Sprintf(sealed, `large {
			bl_shape  = [0.06, -0.16]
			kms_shape = [-0.1, 0.25]
			le_shape  = [-0.2]
		}`), frequency: 40, second: 270, base: 10, voltage: 8, cycles: 6,
		bl: "(1+0.06*X/4-0.16*X*X/16)", kx: "(X*(1-0.1*X/4+0.25*X*X/16))", lx: "(1-0.2*X/4)", slope: "(-0.2/4)"}
	m := read(t, c.design)
	a, err := assemble(m)
	if err != nil {
		t.Fatal(err)
	}
	pair, err := Pair{First: c.frequency, Second: c.second, Voltage: c.voltage, Cold: true}.filled()
	if err != nil {
		t.Fatal(err)
	}
	s, p, err := a.pair(pair)
	if err != nil {
		t.Fatal(err)
	}
	rows := c.run(t, m, program)
	most := cmplx.Abs(phasor(rows, 0, c.frequency, 1/c.base))
	second := cmplx.Abs(phasor(rows, 0, c.second, 1/c.base))
	checked := 0
	for l, line := range p.Lines {
		if l == 0 || line.First > 3 || line.First < -3 || line.Second > 2 {
			continue
		}
		want := cmplx.Abs(phasor(rows, 0, line.Frequency, 1/c.base))
		strongest := second
		if line.Second == 0 {
			strongest = most
		}
		below := 20 * math.Log10(want/strongest)
		d := 20 * math.Log10(cmplx.Abs(s.Displacement(0, l))*1000/want)
		t.Logf("%d·%g %+d·%g Hz: %.1f dB, off by %+.4f dB", line.First, c.frequency, line.Second, c.second, below, d)
		if below < -60 {
			continue
		}
		checked++
		if !(math.Abs(d) < 0.02) {
			t.Errorf("%d·%g %+d·%g Hz at %.1f dB: off by %.4f dB", line.First, c.frequency, line.Second, c.second, below, d)
		}
	}
	if checked < 8 {
		t.Errorf("%d lines above −60 dB, want eight", checked)
	}
}
