package network

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/air"
)

// box is a driver in a ported box with a leak and a horn, all elements joined: a
// network to solve.
type box struct {
	parts
	plan   *Plan
	supply *Supply
	ends   []Unknown // pressures and motions to reduce to
}

func newBox(t testing.TB) *box {
	t.Helper()
	b := new(box)
	near, far := b.unknown(Pressure), b.unknown(Pressure)
	out := [3]Unknown{b.unknown(Pressure), b.unknown(Pressure), b.unknown(Pressure)}
	terminal, after, current := b.net.Held(Voltage, "terminal"), b.unknown(Voltage), b.net.Driven(Current, "current")
	x := b.unknown(Displacement)
	b.supply = &Supply{Terminal: terminal, Current: current, Resistance: b.value(0.2)}
	b.add("supply", b.supply)
	b.add("choke", &Branch{Plus: terminal, Minus: after, Current: b.unknown(Current), Resistance: b.value(0.1), Inductance: b.value(1e-3), Capacitance: None})
	b.add("coil", &Coil{Plus: after, Minus: Ground, Current: b.unknown(Current), Displacement: x, Count: 1, Resistance: b.value(5.6),
		ForceFactor: b.value(9), Inductance: b.value(0.5e-3), K: None, N: None, L2: None, R2: None})
	cone := &Diaphragm{Front: out[0], Rear: near, Open: [2]bool{true, false}, Displacement: x, Count: 1, Area: b.value(0.049), Mass: b.value(0.06), Compliance: b.value(4e-4),
		Resistance: b.value(2), Creep: b.value(0.05), CreepReference: b.value(31)}
	b.add("cone", cone)
	chamber := func(at Unknown, volume float64) {
		b.add("chamber", &Chamber{Pressure: at, Volume: b.value(volume), Wall: b.value(0.6), Fill: None, FlowResistivity: None, Leak: None, Air: air.Reference()})
	}
	chamber(near, 0.02)
	chamber(far, 0.05)
	b.add("leak", &Resistance{From: far, To: Ground, Flow: b.unknown(VolumeDisplacement), Resistance: b.value(5e4)})
	port := b.duct(near, far, 0.1, 0.008)
	port.Radius = b.value(math.Sqrt(0.008 / math.Pi))
	b.add("port", port)
	mouth := b.duct(far, out[1], 0.2, 0.006)
	mouth.Open = [2]bool{false, true}
	mouth.Perimeter = b.value(0.4)
	b.add("mouth", mouth)
	flare := b.duct(far, out[2], 0.3, 0.002)
	flare.Open, flare.ToArea, flare.Taper, flare.Lossy = [2]bool{false, true}, b.value(0.01), Conical, true
	b.add("flare", flare)
	opening := func(at, flow Unknown, factor, area Value, x float64) Opening {
		return Opening{Pressure: at, Flow: flow, Factor: factor, Sign: 1, Count: 1, Area: area, Place: [3]Value{b.value(x), b.value(0), b.value(0)}}
	}
	b.add("outside", &Mouths{Outside: &FreeSpace{Angle: 2 * math.Pi, Distance: b.value(1), Listener: [3]Value{None, None, None}, Mutual: true, Air: air.Reference()},
		Openings: []Opening{opening(out[0], x, cone.Area, cone.Area, 0), opening(out[1], mouth.Flow, None, mouth.Area, 0.3), opening(out[2], flare.Flow, None, flare.ToArea, 0.7)}})
	table, err := NewTable([]Unknown{near, far}, true, []float64{10, 1000}, [][]complex128{{1e-7, -1e-8, -1e-8, 1e-7}, {1e-6, -1e-7, -1e-7, 1e-6}})
	if err != nil {
		t.Fatal(err)
	}
	b.add("table", table)
	b.ends = []Unknown{near, far, x, port.Flow, current, mouth.Entry}
	if b.plan, err = b.net.Compile(); err != nil {
		t.Fatal(err)
	}
	return b
}

// exact solves a small dense system by elimination with the largest pivot of
// each column.
func exact(k []complex128, n int, b []complex128) []complex128 {
	k, b = append([]complex128(nil), k...), append([]complex128(nil), b...)
	for i := range n { // rows of like size
		most := 0.0
		for j := range n {
			most = math.Max(most, cmplx.Abs(k[i*n+j]))
		}
		for j := range n {
			k[i*n+j] /= complex(most, 0)
		}
		b[i] /= complex(most, 0)
	}
	for p := range n {
		best := p
		for i := p; i < n; i++ {
			if cmplx.Abs(k[i*n+p]) > cmplx.Abs(k[best*n+p]) {
				best = i
			}
		}
		for j := range n {
			k[p*n+j], k[best*n+j] = k[best*n+j], k[p*n+j]
		}
		b[p], b[best] = b[best], b[p]
		for i := p + 1; i < n; i++ {
			l := k[i*n+p] / k[p*n+p]
			for j := p; j < n; j++ {
				k[i*n+j] -= l * k[p*n+j]
			}
			b[i] -= l * b[p]
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			b[i] -= k[i*n+j] * b[j]
		}
		b[i] /= k[i*n+i]
	}
	return b
}

func differ(t *testing.T, what string, got, want []complex128, tolerance float64) {
	t.Helper()
	for i := range want {
		if !(cmplx.Abs(got[i]-want[i]) <= tolerance*cmplx.Abs(want[i])) {
			t.Errorf("%s [%d]: %.12g, want %.12g", what, i, got[i], want[i])
		}
	}
}

// The fixed order of elimination, the pivoted one and plain elimination of the
// whole matrix solve alike, forward and transposed, for any right-hand side.
func TestSolversAgree(t *testing.T) {
	b := newBox(t)
	n := b.plan.Unknowns()
	r := rand.New(rand.NewPCG(3, 3)) // right-hand sides: any will do
	w, pivoted := b.plan.Workspace(), b.plan.Workspace()
	for _, f := range []float64{3, 40, 250, 1900} {
		omega := 2 * math.Pi * f
		if err := w.Factor(omega, b.values); err != nil {
			t.Fatal(err)
		}
		if w.pivoted {
			t.Fatalf("%g Hz: the fixed order lost its digits", f)
		}
		pivoted.point = w.point
		if err := pivoted.factorPivoted(); err != nil {
			t.Fatal(err)
		}
		pivoted.pivoted = true
		k := w.Matrix(omega, b.values)
		turned := make([]complex128, n*n)
		for i := range n {
			for j := range n {
				turned[j*n+i] = k[i*n+j]
			}
		}
		for range 3 {
			rhs, x := make([]complex128, n), make([]complex128, n)
			for i := range rhs {
				rhs[i] = complex(r.NormFloat64(), r.NormFloat64())
			}
			want := exact(k, n, rhs)
			w.Solve(rhs, x)
			differ(t, "fixed", x, want, 1e-9)
			pivoted.Solve(rhs, x)
			differ(t, "pivoted", x, want, 1e-9)
			want = exact(turned, n, rhs)
			w.SolveTransposed(rhs, x)
			differ(t, "fixed, transposed", x, want, 1e-9)
			copy(x, rhs)
			pivoted.SolveTransposed(x, x)
			differ(t, "pivoted, transposed, in place", x, want, 1e-9)
		}
	}
}

// What Reduce leaves is the inverse of the Schur complement
// S = K_tt − K_tr·K_rr⁻¹·K_rt of the matrix on the terminals.
func TestReduceIsTheInverseSchurComplement(t *testing.T) {
	b := newBox(t)
	n, m := b.plan.Unknowns(), len(b.ends)
	w := b.plan.Workspace()
	for _, f := range []float64{0, 25, 310} {
		omega := 2 * math.Pi * f
		if err := w.Factor(omega, b.values); err != nil {
			t.Fatal(err)
		}
		h := make([]complex128, m*m)
		w.Reduce(b.ends, h)
		k := w.Matrix(omega, b.values)
		var rest []int
		for i := range n {
			inside := false
			for _, u := range b.ends {
				inside = inside || int(u) == i
			}
			if !inside {
				rest = append(rest, i)
			}
		}
		inner := make([]complex128, len(rest)*len(rest))
		for i, r := range rest {
			for j, c := range rest {
				inner[i*len(rest)+j] = k[r*n+c]
			}
		}
		schur := make([]complex128, m*m)
		for j, c := range b.ends {
			column := make([]complex128, len(rest))
			for i, r := range rest {
				column[i] = k[r*n+int(c)]
			}
			solved := exact(inner, len(rest), column)
			for i, r := range b.ends {
				s := k[int(r)*n+int(c)]
				for l, q := range rest {
					s -= k[int(r)*n+q] * solved[l]
				}
				schur[i*m+j] = s
			}
		}
		for j := range m {
			unit := make([]complex128, m)
			unit[j] = 1
			want := exact(schur, m, unit)
			got := make([]complex128, m)
			for i := range got {
				got[i] = h[i*m+j]
			}
			most := 0.0
			for _, z := range want {
				most = math.Max(most, cmplx.Abs(z))
			}
			for i := range got {
				if !(cmplx.Abs(got[i]-want[i]) <= 1e-7*cmplx.Abs(want[i])+1e-13*most) {
					t.Errorf("%g Hz [%d %d]: %.10g, want %.10g", f, i, j, got[i], want[i])
				}
			}
		}
	}
}

// Where a pivot of the fixed order vanishes, here that of a chamber and a mass at
// their resonance without loss, the pivoted solve takes over.
func TestVanishingPivot(t *testing.T) {
	p := new(parts)
	at := p.unknown(Pressure)
	m := air.Reference()
	p.add("chamber", &Chamber{Pressure: at, Volume: p.value(0.01), Wall: None, Fill: None, FlowResistivity: None, Leak: None, Air: m})
	d := p.duct(at, Ground, 1e-6, 1e-3)
	d.Mass = [2]Value{p.value(0.1), None}
	p.add("neck", d)
	plan, err := p.net.Compile()
	if err != nil {
		t.Fatal(err)
	}
	w := plan.Workspace()
	resonance := m.Speed * math.Sqrt(1e-3/(0.01*0.1))
	k := []complex128{}
	n := plan.Unknowns()
	rhs, x := make([]complex128, n), make([]complex128, n)
	rhs[at] = 1e-6
	for _, off := range []float64{1e-3, 1e-7, 1e-10} {
		omega := resonance * (1 + off)
		if err := w.Factor(omega, p.values); err != nil {
			t.Fatal(err)
		}
		w.Solve(rhs, x)
		k = w.Matrix(omega, p.values)
		want := exact(k, n, rhs)
		differ(t, "at resonance", x[:1], want[:1], 1e-15/off+1e-9)
	}
}

// Equations with no single solution are refused by name.
func TestSingular(t *testing.T) {
	p := new(parts)
	a, b, i := p.net.Unknown(Voltage, "a"), p.net.Unknown(Voltage, "b"), p.net.Unknown(Current, "loop")
	p.add("bridge", &Branch{Plus: a, Minus: b, Current: i, Resistance: p.value(1), Inductance: None, Capacitance: None})
	plan, err := p.net.Compile()
	if err == nil {
		err = plan.Workspace().Factor(100, p.values)
	}
	if err == nil {
		t.Fatal("a resistor on its own has a solution")
	}
	q := new(parts)
	v, j := q.net.Unknown(Voltage, "v"), q.net.Unknown(Current, "short")
	q.add("source", &Supply{Terminal: v, Current: q.net.Driven(Current, "source"), Resistance: None})
	q.add("choke", &Branch{Plus: v, Minus: Ground, Current: j, Resistance: None, Inductance: q.value(1e-3), Capacitance: None})
	plan, err = q.net.Compile()
	if err != nil {
		t.Fatal(err)
	}
	if err := plan.Workspace().Factor(10, q.values); err != nil {
		t.Errorf("a choke at 10/s: %v", err)
	}
	var singular *SingularError
	if err := plan.Workspace().Factor(0, q.values); !errors.As(err, &singular) || singular.Omega != 0 {
		t.Errorf("a choke that shorts an ideal source at rest: %v", err)
	}
}

// Solving at a frequency allocates nothing, readings and gradients included.
func TestSolvingAllocatesNothing(t *testing.T) {
	b := newBox(t)
	n := b.plan.Unknowns()
	w := b.plan.Workspace()
	rhs, x, lambda, grad := make([]complex128, n), make([]complex128, n), make([]complex128, n), make([]complex128, len(b.values))
	rhs[b.supply.Current] = 2.83
	f := 20.0
	each := func() {
		f *= 1.01
		if err := w.Factor(2*math.Pi*f, b.values); err != nil || w.pivoted {
			t.Fatal(err, w.pivoted)
		}
		w.Solve(rhs, x)
		clear(lambda)
		lambda[b.ends[2]] = 1
		w.SolveTransposed(lambda, lambda)
		clear(grad)
		w.Gradient(lambda, x, grad)
		for _, e := range b.list {
			if a, ok := e.(Accountable); ok {
				a.Budget(w.Point(), x)
			}
		}
	}
	if got := testing.AllocsPerRun(100, each); got != 0 {
		t.Errorf("%v allocations per frequency", got)
	}
}
