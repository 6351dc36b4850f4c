package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/network"
)

// everything is what is read off a model at a frequency, by the part's name.
func everything(t *testing.T, m *design.Model, f float64) map[string]complex128 {
	t.Helper()
	b := NewBench(m)
	if err := b.Solve(f); err != nil {
		t.Fatal(err)
	}
	all := map[string]complex128{}
	for i, d := range m.Drives {
		all["impedance "+d.Name] = b.Impedance(i)
		all["current "+d.Name] = b.Current(i)
	}
	for _, v := range m.Mounts {
		all[v.Name] = b.Excursion(v.Diaphragm)
	}
	for _, v := range m.Passives {
		all[v.Name] = b.Excursion(v.Diaphragm)
	}
	for _, v := range slices.Concat(m.Ports, m.Lines) {
		all[v.Name] = b.AirSpeed(v)
	}
	for _, v := range m.Chambers {
		all[v.Name] = b.ChamberPressure(v)
	}
	all["listener"] = b.Pressure()
	return all
}

// same compares readings, of the second under the first's names. What is far
// below others of its kind has fewer digits of its own.
func same(t *testing.T, f float64, want, got map[string]complex128, name func(string) string, tolerance float64) {
	t.Helper()
	kind := func(name string) string { // speeds are of one kind, excursions too
		return strings.NewReplacer("line", "port", "passive", "mount").Replace(strings.TrimRight(name, "0123456789"))
	}
	most := map[string]float64{}
	for k, w := range want {
		most[kind(k)] = math.Max(most[kind(k)], cmplx.Abs(w))
	}
	for k, w := range want {
		g, ok := got[name(k)]
		if off := cmplx.Abs(g-w) / math.Max(cmplx.Abs(w), 0.01*most[kind(k)]); !ok || w != 0 && !(off <= tolerance) || w == 0 && g != 0 {
			t.Errorf("%.6g Hz, %s: %.14g, changed %.14g (%.2g)", f, k, w, g, off)
		}
	}
}

func build(t *testing.T, d *design.Design) *design.Model {
	t.Helper()
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return m
}

// eachPlace visits everything that a part of the design is joined to.
func eachPlace(d *design.Design, visit func(*design.Place)) {
	for _, v := range d.Ports {
		visit(&v.From)
		visit(&v.To)
	}
	for _, v := range d.Lines {
		visit(&v.From)
		visit(&v.To)
	}
	for _, v := range d.Mounts {
		visit(&v.Front)
		visit(&v.Rear)
	}
	for _, v := range d.Passives {
		visit(&v.Front)
		visit(&v.Rear)
	}
	for _, v := range d.Leaks {
		visit(&v.From)
		visit(&v.To)
	}
}

// What parts are called, and in which order they stand, makes no difference.
func TestNamesAndOrderDoNotMatter(t *testing.T) {
	eachWild(t, wilds, false, func(t *testing.T, seed uint64, r *rand.Rand, m *design.Model) {
		d := parseText(t, wildDesign(seed, false))
		renamed := map[string]string{}
		name := func(s string) string {
			if s == "" || s == "listener" || s == "impedance " || s == "current " {
				return s
			}
			for _, lead := range []string{"impedance ", "current "} {
				if rest, ok := strings.CutPrefix(s, lead); ok {
					return lead + renamed[rest]
				}
			}
			return renamed[s]
		}
		rename := func(s *string) {
			if *s == "" {
				return
			}
			if renamed[*s] == "" {
				renamed[*s] = fmt.Sprintf("%c%d", 'z'-rune(len(renamed)%26), r.IntN(1e6))
			}
			*s = renamed[*s]
		}
		for _, v := range d.Drivers {
			rename(&v.Name)
		}
		for _, v := range d.Chambers {
			rename(&v.Name)
		}
		for _, v := range d.Junctions {
			rename(&v.Name)
		}
		for _, v := range d.Ports {
			rename(&v.Name)
		}
		for _, v := range d.Lines {
			rename(&v.Name)
		}
		for _, v := range d.Passives {
			rename(&v.Name)
		}
		for _, v := range d.Leaks {
			rename(&v.Name)
		}
		for _, v := range d.Drives {
			rename(&v.Name)
		}
		for _, v := range d.Mounts {
			rename(&v.Name)
			rename(&v.Driver)
			rename(&v.Drive)
		}
		eachPlace(d, func(p *design.Place) {
			if p.Kind == design.InChamber || p.Kind == design.AtJunction {
				rename(&p.Name)
			}
		})
		shuffle(r, d.Drivers)
		shuffle(r, d.Chambers)
		shuffle(r, d.Junctions)
		shuffle(r, d.Ports)
		shuffle(r, d.Lines)
		shuffle(r, d.Passives)
		shuffle(r, d.Leaks)
		shuffle(r, d.Mounts)
		shuffle(r, d.Drives)
		changed := build(t, d)
		for _, f := range pitches(r, 3) {
			same(t, f, everything(t, m, f), everything(t, changed, f), name, 1e-8)
		}
	})
}

func shuffle[T any](r *rand.Rand, list []T) {
	r.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
}

// A port or line drawn from the other end is the same one; only its air speed
// counts the other way.
func TestDirectionDoesNotMatter(t *testing.T) {
	eachWild(t, wilds, false, func(t *testing.T, seed uint64, r *rand.Rand, m *design.Model) {
		d := parseText(t, wildDesign(seed, false))
		turned := map[string]bool{}
		for _, p := range d.Ports {
			p.From, p.To = p.To, p.From
			slices.Reverse(p.Ends[:])
			slices.Reverse(p.Edges[:])
			slices.Reverse(p.EndCorrection)
			slices.Reverse(p.Inside)
			turned[p.Name] = true
		}
		for _, l := range d.Lines {
			l.From, l.To = l.To, l.From
			slices.Reverse(l.Sections)
			for _, s := range l.Sections {
				if s.ToArea.Given {
					start := s.StartArea()
					s.Area, s.ToArea = s.ToArea, design.Quantity{SI: start, Given: true}
					s.Diameter, s.Size = design.Quantity{}, nil
				}
			}
			turned[l.Name] = true
		}
		changed := build(t, d)
		for _, f := range pitches(r, 3) {
			want, got := everything(t, m, f), everything(t, changed, f)
			for name := range turned {
				got[name] = -got[name]
			}
			same(t, f, want, got, func(s string) string { return s }, 1e-8)
		}
	})
}

// At rest everything is as it is an instant before: the solution at 0 Hz is
// what displacements and pressures tend to, in proportion to the frequency.
// Boundary-layer formulas have no limit of their own there (their layer outgrows
// what it lines), so rectangular ducts and chamber walls are ideal here.
func TestStaticLimit(t *testing.T) {
	moved := 0
	eachWild(t, wilds, false, func(t *testing.T, seed uint64, r *rand.Rand, _ *design.Model) {
		d := parseText(t, wildDesign(seed, false))
		for _, c := range d.Chambers {
			c.Walls = design.WallsIdeal
		}
		for _, p := range d.Ports {
			if len(p.Size) == 2 {
				p.Walls = design.WallsIdeal
			}
		}
		for _, l := range d.Lines {
			for _, s := range l.Sections {
				if len(s.Size) == 2 {
					l.Walls = design.WallsIdeal
				}
			}
		}
		m := build(t, d)
		b := NewBench(m)
		at := func(f float64) []complex128 {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			return slices.Clone(b.Solution())
		}
		// A lossy coil's (jω)^n, with n from a half, tends slowest. Flows are left
		// out: how they part between ways past one another hangs on pressures
		// that differ in digits which are no longer there.
		rest, slow, slower, lively := at(0), at(1e-5), at(1e-6), at(20)
		for kind, list := range unknownsOf(m) {
			most := 0.0
			for _, u := range list {
				most = math.Max(most, math.Max(cmplx.Abs(slow[u]), cmplx.Abs(lively[u])))
			}
			for _, u := range list {
				first, second := cmplx.Abs(slow[u]-rest[u]), cmplx.Abs(slower[u]-rest[u])
				if !(first <= 0.1*most && second <= 0.35*first+1e-9*most) {
					t.Errorf("%s %s: %.8g at rest, %.8g at 1e-5 Hz, %.8g at 1e-6 Hz", kind, m.Plan.Name(u), rest[u], slow[u], slower[u])
				}
				if cmplx.Abs(rest[u]) > 1e-3*most {
					moved++
				}
			}
		}
	})
	if moved < wilds*3 {
		t.Errorf("only %d unknowns are not zero at rest", moved)
	}
}

// unknownsOf sorts pressures, excursions and currents of a model.
func unknownsOf(m *design.Model) map[string][]network.Unknown {
	list := map[string][]network.Unknown{}
	add := func(kind string, u ...network.Unknown) { list[kind] = append(list[kind], u...) }
	for _, v := range m.Chambers {
		add("pressure", v.Pressure)
	}
	for _, v := range m.Mounts {
		add("excursion", v.Diaphragm.Displacement)
		add("current", v.Coil.Current)
	}
	for _, v := range m.Passives {
		add("excursion", v.Diaphragm.Displacement)
	}
	for _, v := range m.Drives {
		add("current", v.Supply.Current)
	}
	return list
}
