package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"ocarina/design"
)

// slope is the derivative of complex numbers by differences: central ones at
// steps that shrink, extrapolated to none (Ridders, Adv. Eng. Software 4, 1982).
// It returns the derivative of each with what the extrapolation still moves.
func slope(at func(x float64) []complex128, x, step float64) (d []complex128, unsure []float64) {
	const rows, shrink = 9, 1.5
	var table [rows][rows][]complex128
	for i := range rows {
		up, down := at(x+step), at(x-step)
		row := make([]complex128, len(up))
		for k := range row {
			row[k] = (up[k] - down[k]) / complex(2*step, 0)
		}
		table[i][0] = row
		if i == 0 {
			d, unsure = slices.Clone(row), make([]float64, len(row))
			for k := range unsure {
				unsure[k] = math.Inf(1)
			}
		}
		factor := shrink * shrink
		for j := 1; j <= i; j++ {
			finer, coarser := table[i][j-1], table[i-1][j-1]
			next := make([]complex128, len(row))
			for k := range next {
				next[k] = (finer[k]*complex(factor, 0) - coarser[k]) / complex(factor-1, 0)
				off := math.Max(cmplx.Abs(next[k]-finer[k]), cmplx.Abs(next[k]-coarser[k]))
				if off < unsure[k] {
					unsure[k], d[k] = off, next[k]
				}
			}
			table[i][j] = next
			factor *= shrink * shrink
		}
		step /= shrink
	}
	at(x)
	return d, unsure
}

// differential is something read off a bench, with its derivative.
type differential struct {
	name     string
	value    func() complex128
	gradient func() Gradient
}

// differentials lists all readings of a bench after a solve. Where a duct's air
// is fastest is settled by then.
func differentials(b *Bench) (list []differential) {
	add := func(name string, value func() complex128, gradient func() Gradient) {
		list = append(list, differential{name, value, gradient})
	}
	m := b.Model
	for i, d := range m.Drives {
		add("impedance "+d.Name, func() complex128 { return b.Impedance(i) }, func() Gradient { return b.ImpedanceGradient(i) })
	}
	if m.Listener != nil {
		add("pressure", b.Pressure, b.PressureGradient)
	}
	for _, v := range m.Mounts {
		add("excursion "+v.Name, func() complex128 { return b.Excursion(v.Diaphragm) }, func() Gradient { return b.ExcursionGradient(v.Diaphragm) })
	}
	for _, v := range m.Passives {
		add("excursion "+v.Name, func() complex128 { return b.Excursion(v.Diaphragm) }, func() Gradient { return b.ExcursionGradient(v.Diaphragm) })
	}
	for _, v := range slices.Concat(m.Ports, m.Lines) {
		s, _ := b.fastest(v)
		add("speed "+v.Name, func() complex128 { return b.speed(v, s) }, func() Gradient { return b.AirSpeedGradient(v) })
	}
	for _, v := range m.Chambers {
		add("pressure "+v.Name, func() complex128 { return b.ChamberPressure(v) }, func() Gradient { return b.ChamberPressureGradient(v) })
	}
	return list
}

// stretch is how far a dimension may be moved to see what it does.
func stretch(d *design.Dimension, value float64) float64 {
	switch d.Key {
	case "position":
		return 0.01
	case "gain":
		return 0.1
	case "temperature", "coil_temperature":
		return 3
	case "end_correction", "inside", "bracing":
		return 0.05 * value
	}
	return 0.01 * math.Abs(value)
}

// Every derivative of every reading with respect to every dimension and the
// frequency agrees with differences to a millionth: of itself, or of a
// thousandth of the reading per relative change where it is smaller.
func TestGradientsAgreeWithDifferences(t *testing.T) {
	compared, sharp, keys := 0, 0, map[string]bool{}
	eachWild(t, wilds, false, func(t *testing.T, _ uint64, r *rand.Rand, m *design.Model) {
		b := NewBench(m)
		f := 10 * math.Pow(50, r.Float64())
		read := func() []complex128 {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			return nil
		}
		read()
		list := differentials(b)
		all := func() (v []complex128) {
			read()
			for _, d := range list {
				v = append(v, d.value())
			}
			return v
		}
		base := all()
		omega := make([]complex128, len(list))
		exact := make([][]complex128, len(list)) // by reading and dimension
		for i, d := range list {
			g := d.gradient()
			omega[i] = g.Omega
			for _, dim := range m.Dimensions {
				exact[i] = append(exact[i], g.Values[dim.Ref])
			}
		}
		check := func(i int, by string, scale float64, got, want complex128, unsure float64) {
			unit := math.Max(cmplx.Abs(want), 1e-3*cmplx.Abs(base[i])/scale)
			compared++
			if unsure < 1e-6*unit {
				sharp++
			}
			if off := cmplx.Abs(got - want); !(off <= 1e-6*unit+2*unsure) {
				t.Errorf("%.5g Hz: %s by %s: %.10g, by differences %.10g ± %.1g", f, list[i].name, by, got, want, unsure)
			}
		}
		for n := range m.Dimensions {
			dim := &m.Dimensions[n]
			keys[dim.Key] = true
			x := b.Values[dim.Ref]
			step := stretch(dim, x)
			if step == 0 {
				t.Fatalf("%s %s is zero", dim.Part, dim.Key)
			}
			want, unsure := slope(func(v float64) []complex128 {
				b.Values[dim.Ref] = v
				b.Follow()
				return all()
			}, x, step)
			for i := range list {
				check(i, fmt.Sprintf("%s %s[%d]", dim.Part, dim.Key, dim.Index), 100*step, exact[i][n], want[i], unsure[i])
			}
		}
		at := f
		want, unsure := slope(func(v float64) []complex128 {
			f = v
			return all()
		}, at, 0.01*at)
		for i := range list {
			check(i, "ω", 2*math.Pi*at, omega[i], want[i]/(2*math.Pi), unsure[i]/(2*math.Pi))
		}
		f = at
		if m.Listener != nil {
			read()
			k := slices.IndexFunc(list, func(d differential) bool { return d.name == "pressure" })
			if got, want := b.GroupDelay(), -imag(want[k]/base[k])/(2*math.Pi); !(math.Abs(got-want) <= 1e-6*math.Abs(want)+2*unsure[k]/cmplx.Abs(base[k])) {
				t.Errorf("group delay %.10g s, by differences %.10g", got, want)
			}
		}
	})
	t.Logf("%d derivatives by %d keys, %.2f %% of the differences good to a millionth", compared, len(keys), 100*float64(sharp)/float64(compared))
	if float64(sharp) < 0.99*float64(compared) {
		t.Errorf("only %d of %d differences are good to a millionth", sharp, compared)
	}
	for _, key := range []string{"volume", "size", "vas", "sd", "fs", "qms", "qes", "mmd", "mms", "cms", "rms", "bl", "re", "le", "creep", "coil.k", "coil.n", "coil.l2", "coil.r2",
		"displacement", "bracing", "inside", "wall_thickness", "fill", "flow_resistivity", "leak_q", "leak_at", "diameter", "area", "length", "wall", "end_correction", "resistance",
		"section[0].to_area", "section[1].size", "position", "distance", "power", "voltage", "gain", "delay", "source_resistance", "coil_temperature", "filter[0].frequency", "filter[0].q", "filter[0].gain",
		"filter[0].inductance", "filter[0].capacitance"} {
		if !keys[key] {
			t.Errorf("no random design has a %s", key)
		}
	}
}

// The mean level's derivatives are those of its differences.
func TestMeanLevelGradient(t *testing.T) {
	tones := []float64{28, 36, 48, 63}
	eachWild(t, 40, false, func(t *testing.T, _ uint64, _ *rand.Rand, m *design.Model) {
		if m.Listener == nil {
			return
		}
		b := NewBench(m)
		got := make([]float64, len(m.Dimensions))
		level, err := b.MeanLevelGradient(tones, got)
		if err != nil {
			t.Fatal(err)
		}
		if again, _ := b.MeanLevel(tones); again != level {
			t.Errorf("level %v, without its gradient %v", level, again)
		}
		for n := range m.Dimensions {
			dim := &m.Dimensions[n]
			x := b.Values[dim.Ref]
			step := stretch(dim, x)
			want, unsure := slope(func(v float64) []complex128 {
				b.Values[dim.Ref] = v
				b.Follow()
				l, err := b.MeanLevel(tones)
				if err != nil {
					t.Fatal(err)
				}
				return []complex128{complex(l, 0)}
			}, x, step)
			if off := math.Abs(got[n] - real(want[0])); !(off <= 1e-6*math.Max(math.Abs(got[n]), 1e-4/step)+2*unsure[0]) {
				t.Errorf("%s %s[%d]: %.10g dB per unit, by differences %.10g ± %.1g", dim.Part, dim.Key, dim.Index, got[n], real(want[0]), unsure[0])
			}
		}
	})
}
