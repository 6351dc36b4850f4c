package driver

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"ocarina/air"
	"ocarina/formula"
)

// An invented twelve-inch driver, worked out on paper from its mechanical
// numbers by Thiele's and Small's relations in the standard air.
const (
	mms, cms, rms, bl, re, sd = 0.052, 0.48e-3, 1.9, 9.8, 5.6, 0.0514
)

var (
	medium = air.Reference()
	fs     = 1 / (2 * math.Pi * math.Sqrt(mms*cms))
	qms    = 2 * math.Pi * fs * mms / rms
	qes    = 2 * math.Pi * fs * mms * re / (bl * bl)
	qts    = qms * qes / (qms + qes)
	vas    = medium.Density * medium.Speed * medium.Speed * cms * sd * sd
	load   = 16.0 / 3 * medium.Density * math.Pow(sd/math.Pi, 1.5)
)

var everyValue = map[string]float64{
	"re": re, "sd": sd, "fs": fs, "qms": qms, "qes": qes, "qts": qts, "vas": vas, "mms": mms, "mmd": mms - load, "cms": cms, "rms": rms, "bl": bl,
}

// sheet enters the values of a list of keys, "key" or "key=value".
func sheet(t *testing.T, g *formula.Graph, keys string) Sheet {
	t.Helper()
	s := Blank()
	at := map[string]*formula.Ref{
		"re": &s.Re, "sd": &s.Sd, "fs": &s.Fs, "qms": &s.Qms, "qes": &s.Qes, "qts": &s.Qts, "vas": &s.Vas,
		"mms": &s.Mms, "mmd": &s.Mmd, "cms": &s.Cms, "rms": &s.Rms, "bl": &s.Bl, "creep": &s.Creep,
	}
	for _, word := range strings.Fields(keys) {
		key, text, given := strings.Cut(word, "=")
		v := everyValue[key]
		if given {
			if _, err := fmt.Sscan(text, &v); err != nil {
				t.Fatal(err)
			}
		}
		*at[key] = g.Input(v)
	}
	return s
}

// Any set of values that says everything gives the same motor.
func TestSetsOfValues(t *testing.T) {
	for _, keys := range []string{
		"re sd fs qms qes vas",
		"re sd fs qms qts vas",
		"re sd fs qes qts vas",
		"re sd fs qms qes cms",
		"re sd fs qms qes mms",
		"re sd fs mms rms bl",
		"re sd mms cms rms bl",
		"re sd mms cms qms qes",
		"re sd mms vas rms qes",
		"re sd fs vas rms bl",
		"re sd fs cms rms qts",
		"re sd fs cms bl qts",
		"re sd mms vas bl qts",
		"re sd fs vas rms bl qts",
		"re sd fs qms qes vas mms cms rms bl qts", // all agree
	} {
		g := new(formula.Graph)
		m, off, err := Derive(g, sheet(t, g, keys), medium)
		if err != nil || len(off) > 0 {
			t.Errorf("%s: %v %v", keys, off, err)
			continue
		}
		for _, v := range []struct {
			key  string
			ref  formula.Ref
			want float64
		}{
			{"mms", m.Mms, mms}, {"cms", m.Cms, cms}, {"rms", m.Rms, rms}, {"bl", m.Bl, bl}, {"fs", m.Fs, fs},
			{"qms", m.Qms, qms}, {"qes", m.Qes, qes}, {"qts", m.Qts, qts}, {"vas", m.Vas, vas},
		} {
			if v.ref == Unknown {
				t.Errorf("%s: %s is not known", keys, v.key)
			} else if got := g.Value(v.ref); math.Abs(got/v.want-1) > 1e-12 {
				t.Errorf("%s: %s = %.15g, want %.15g", keys, v.key, got, v.want)
			}
		}
		if m.Bare {
			t.Errorf("%s: the mass is said to be bare", keys)
		}
	}
}

// The mass without its air is completed by the air of both faces for fs and the
// Qs, and left bare for the network.
func TestMassWithoutAir(t *testing.T) {
	for _, keys := range []string{"re sd mmd cms rms bl", "re sd mmd fs qms qes", "re sd mmd cms qms bl"} {
		g := new(formula.Graph)
		m, off, err := Derive(g, sheet(t, g, keys), medium)
		if err != nil || len(off) > 0 {
			t.Fatalf("%s: %v %v", keys, off, err)
		}
		if !m.Bare {
			t.Errorf("%s: the mass is not said to be bare", keys)
		}
		for what, pair := range map[string][2]float64{
			"mmd": {g.Value(m.Mms), mms - load}, "fs": {g.Value(m.Fs), fs}, "cms": {g.Value(m.Cms), cms},
			"qms": {g.Value(m.Qms), qms}, "qes": {g.Value(m.Qes), qes}, "bl": {g.Value(m.Bl), bl}, "rms": {g.Value(m.Rms), rms},
		} {
			if math.Abs(pair[0]/pair[1]-1) > 1e-12 {
				t.Errorf("%s: %s = %.15g, want %.15g", keys, what, pair[0], pair[1])
			}
		}
	}
	// With fs and a suspension the loaded mass follows and mmd is only compared.
	g := new(formula.Graph)
	m, off, err := Derive(g, sheet(t, g, "re sd mmd=0.03 fs qms qes vas"), medium)
	if err != nil || m.Bare || math.Abs(g.Value(m.Mms)/mms-1) > 1e-12 {
		t.Errorf("mmd beside fs and vas: %+v, %v", m, err)
	}
	if len(off) != 1 || math.Abs(off[0].Given-(0.03+load)) > 1e-12 || math.Abs(off[0].FromOthers/mms-1) > 1e-12 {
		t.Errorf("mmd beside fs and vas: %v", off)
	}
}

// A piston in free air carries 8/(3π)·ρ·a·S on each face (Beranek 1954, ch. 5):
// both together and one alone.
func TestAirLoads(t *testing.T) {
	g := new(formula.Graph)
	s := g.Input(sd)
	a := math.Sqrt(sd / math.Pi)
	face := 8 / (3 * math.Pi) * medium.Density * a * sd
	if got := g.Value(FaceLoad(g, s, medium)); math.Abs(got/face-1) > 1e-12 {
		t.Errorf("one face carries %v kg, want %v", got, face)
	}
	if got := g.Value(FreeAirLoad(g, s, medium)); math.Abs(got/(2*face)-1) > 1e-12 {
		t.Errorf("both carry %v kg, want %v", got, 2*face)
	}
}

// More data than needed: beyond five per cent both values are named, and the
// first of the rule's order holds.
func TestContradictions(t *testing.T) {
	for _, row := range []struct {
		keys, off string
		holds     map[string]float64
	}{
		{"re sd fs qms qes vas mms=0.060", "mms", map[string]float64{"mms": mms}},
		{"re sd fs qms qes vas mms=0.0543", "", map[string]float64{"mms": mms}}, // 4.4 % off
		{"re sd fs qms qes vas cms=0.0006", "cms", map[string]float64{"cms": cms}},
		{"re sd fs qms qes vas bl=7", "bl", map[string]float64{"bl": bl}},
		{"re sd fs qms qes vas rms=3", "rms", map[string]float64{"rms": rms}},
		{"re sd fs qms qes qts=0.2 vas", "qts", map[string]float64{"qts": qts}},
		{"re sd fs vas rms bl qts=0.9", "qts", map[string]float64{"rms": rms, "bl": bl, "qts": qts}},
		{"re sd fs qms qes vas mms=0.060 bl=7", "mms bl", map[string]float64{"mms": mms, "bl": bl}},
	} {
		g := new(formula.Graph)
		m, off, err := Derive(g, sheet(t, g, row.keys), medium)
		if err != nil {
			t.Errorf("%s: %v", row.keys, err)
			continue
		}
		var keys []string
		for _, o := range off {
			keys = append(keys, o.Key)
			if math.Abs(o.Given-o.FromOthers) < 0.05*o.FromOthers {
				t.Errorf("%s: %+v is not far off", row.keys, o)
			}
		}
		if got := strings.Join(keys, " "); got != row.off {
			t.Errorf("%s: %q differ, want %q", row.keys, got, row.off)
		}
		for key, ref := range map[string]formula.Ref{"mms": m.Mms, "cms": m.Cms, "bl": m.Bl, "rms": m.Rms, "qts": m.Qts} {
			if want, ok := row.holds[key]; ok && math.Abs(g.Value(ref)/want-1) > 1e-12 {
				t.Errorf("%s: %s = %v, want %v", row.keys, key, g.Value(ref), want)
			}
		}
	}
}

// Too little, and what cannot be.
func TestBadSheets(t *testing.T) {
	for _, row := range []struct {
		keys, message string
		missing       bool
	}{
		{"re sd fs qms qes", "suspension", true},
		{"re sd mms qms qes", "suspension", true},
		{"re sd vas qms qes", "moving mass", true},
		{"re sd fs vas qes", "loss", true},
		{"re sd fs vas qms", "motor", true},
		{"re sd fs vas qms qts=9", "qts", false},
		{"re sd fs vas qes qts=2", "qts", false},
		{"re sd fs vas rms qts=9", "the qms that rms makes", false},
		{"re sd fs vas bl qts=9", "the qes that bl makes", false},
		{"re sd fs vas qms=60 qes creep=0.1", "creep", false},
	} {
		g := new(formula.Graph)
		_, _, err := Derive(g, sheet(t, g, row.keys), medium)
		var missing *MissingError
		if err == nil || !strings.Contains(err.Error(), row.message) || errors.As(err, &missing) != row.missing {
			t.Errorf("%s: %v; wanted a word about %s", row.keys, err, row.message)
		}
	}
}

// A passive radiator is a sheet without a coil.
func TestPassive(t *testing.T) {
	for _, keys := range []string{"sd mms cms rms", "sd fs qms vas"} {
		g := new(formula.Graph)
		m, off, err := Derive(g, sheet(t, g, keys), medium)
		if err != nil || len(off) > 0 || m.Bl != Unknown || m.Qes != Unknown {
			t.Fatalf("%s: %+v %v %v", keys, m, off, err)
		}
		for what, pair := range map[string][2]float64{"mms": {g.Value(m.Mms), mms}, "cms": {g.Value(m.Cms), cms}, "rms": {g.Value(m.Rms), rms}} {
			if math.Abs(pair[0]/pair[1]-1) > 1e-12 {
				t.Errorf("%s: %s = %v, want %v", keys, what, pair[0], pair[1])
			}
		}
	}
	g := new(formula.Graph)
	m, _, err := Derive(g, sheet(t, g, "sd mms cms rms=0"), medium)
	if err != nil || m.Qms != Unknown {
		t.Errorf("a passive without loss: %+v, %v", m, err)
	}
}

// With creep the whole mechanical resistance at fs, the creep's share by its own
// formula and Rms, is still what the given Qms says.
func TestCreepKeepsQms(t *testing.T) {
	for _, lambda := range []float64{0.01, 0.05, 0.12} {
		g := new(formula.Graph)
		m, _, err := Derive(g, sheet(t, g, fmt.Sprintf("re sd fs qms qes vas creep=%g", lambda)), medium)
		if err != nil {
			t.Fatal(err)
		}
		omega := 2 * math.Pi * g.Value(m.Fs)
		s := complex(0, omega)
		compliance := complex(g.Value(m.Cms), 0) * (1 - complex(lambda, 0)*cmplx.Log(s/complex(omega, 0))/complex(math.Ln10, 0))
		loss := real(complex(g.Value(m.Rms), 0) + 1/(s*compliance))
		if got := omega * g.Value(m.Mms) / loss; math.Abs(got/qms-1) > 1e-12 {
			t.Errorf("λ = %g: Q %.15g, given %.15g", lambda, got, qms)
		}
		if g.Value(m.Rms) >= rms {
			t.Errorf("λ = %g: Rms %v is not lowered from %v", lambda, g.Value(m.Rms), rms)
		}
	}
	// A resistance given outright is the dashpot's own.
	g := new(formula.Graph)
	if m, _, err := Derive(g, sheet(t, g, "re sd mms cms rms bl creep=0.1"), medium); err != nil || g.Value(m.Rms) != rms {
		t.Errorf("creep changed a given rms: %v, %v", g.Value(m.Rms), err)
	}
}

// Copper gains 39.3 % from 20 °C to 120 °C (IEC 60028: 0.00393/K at 20 °C).
func TestHeated(t *testing.T) {
	g := new(formula.Graph)
	r := Heated(g, g.Input(4), g.Input(273.15+120))
	if got := g.Value(r); math.Abs(got-4*1.393) > 1e-12 {
		t.Errorf("4 ohm at 120 °C are %v", got)
	}
}
