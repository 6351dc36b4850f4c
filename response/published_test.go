package response

import (
	"encoding/json"
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"
)

// published is one entry of testdata/published.json. Source says where the
// number was published, Provenance whether it was read there, remembered, or
// computed (those guard against regressions and are no outside evidence).
type published struct {
	ID         string                     `json:"id"`
	Inputs     map[string]json.RawMessage `json:"inputs"`
	Expected   json.RawMessage            `json:"expected"`
	Tolerance  json.RawMessage            `json:"tolerance"`
	Source     string                     `json:"source"`
	Provenance string                     `json:"provenance"`

	used map[string]bool
}

func parseRow(t *testing.T, raw json.RawMessage, to any) {
	t.Helper()
	if err := json.Unmarshal(raw, to); err != nil {
		t.Fatal(err)
	}
}

func (r *published) input(t *testing.T, key string) (v float64) {
	t.Helper()
	parseRow(t, r.Inputs[key], &v)
	return v
}

func (r *published) inputs(t *testing.T, key string) (v []float64) {
	t.Helper()
	parseRow(t, r.Inputs[key], &v)
	return v
}

// expected returns a published value and how far off it may be.
func (r *published) expected(t *testing.T, key string) (value, margin float64) {
	t.Helper()
	var tol struct{ Abs, Rel float64 }
	parseRow(t, r.Tolerance, &tol)
	if key == "" {
		parseRow(t, r.Expected, &value)
	} else {
		var values map[string]float64
		parseRow(t, r.Expected, &values)
		v, ok := values[key]
		if !ok {
			t.Fatalf("%s expects no %s", r.ID, key)
		}
		value = v
		var each map[string]json.RawMessage
		parseRow(t, r.Tolerance, &each)
		if one, ok := each[key]; ok {
			parseRow(t, one, &tol)
		}
	}
	margin = math.Max(tol.Abs, tol.Rel*math.Abs(value))
	if margin <= 0 {
		t.Fatalf("%s: %s has no tolerance", r.ID, key)
	}
	r.used[key] = true
	return value, margin
}

func (r *published) check(t *testing.T, key string, got float64) {
	t.Helper()
	want, margin := r.expected(t, key)
	if !(math.Abs(got-want) <= margin) {
		t.Errorf("%s %s: %.8g, published %.8g ± %.2g (%s)", r.ID, key, got, want, margin, r.Source)
	}
}

// Every row of testdata/published.json is held against what the program makes
// of a design, and every number of it is looked at.
func TestPublished(t *testing.T) {
	raw, err := os.ReadFile("testdata/published.json")
	if err != nil {
		t.Fatal(err)
	}
	var rows []*published
	if err := json.Unmarshal(raw, &rows); err != nil {
		t.Fatal(err)
	}
	ways := []struct {
		id    string
		check func(*testing.T, *published)
	}{
		{"thiele.", checkVented}, {"qb3.", checkVented}, {"b4.", checkVented}, {"c4.", checkVented}, {"ql7.", checkVented},
		{"small.vented.example", checkVentedExample}, {"small.keta.closed", checkClosedEfficiency}, {"small.keta.vented", checkVentedEfficiency},
		{"closed.", checkClosed}, {"eta0.const", checkEfficiency}, {"spl.const", checkSensitivity},
		{"bp4.example", checkBandpassExample}, {"bp4.gain.", checkBandpassGain}, {"bp4.", checkBandpass},
		{"helmholtz.example", checkHelmholtz},
		{"ts.extract", checkImpedanceMethod}, {"ts.addedmass", checkAddedMass}, {"ts.knownvolume", checkKnownVolume},
		{"semi.", checkLossyCoil}, {"scale.freq", checkScaledFrequency},
	}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			r.used = map[string]bool{}
			for _, w := range ways {
				if strings.HasPrefix(r.ID, w.id) {
					w.check(t, r)
					break
				}
			}
			var values map[string]json.RawMessage
			if json.Unmarshal(r.Expected, &values) != nil {
				values = map[string]json.RawMessage{"": nil}
			}
			for key := range values {
				if !r.used[key] {
					t.Errorf("%s %s is held against nothing", r.ID, key)
				}
			}
		})
	}
}

// crossing is where f goes through zero between a and b, which it does once.
func crossing(f func(float64) float64, a, b float64) float64 {
	fa := f(a)
	for range 200 {
		m := (a + b) / 2
		if m == a || m == b {
			break
		}
		if fm := f(m); (fm > 0) == (fa > 0) {
			a = m
		} else {
			b = m
		}
	}
	return (a + b) / 2
}

// highest is where f is highest between a and b (golden section), where it has
// one maximum, and its value.
func highest(f func(float64) float64, a, b float64) (x, y float64) {
	const ratio = 0.6180339887498949
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(c), f(d)
	for range 100 {
		if fc > fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(d)
		}
	}
	return (a + b) / 2, f((a + b) / 2)
}

// halfPower is −3.0103 dB.
var halfPower = -10 * math.Log10(2)

// solved solves at a frequency.
func (b *Bench) solved(t *testing.T, f float64) *Bench {
	t.Helper()
	if err := b.Solve(f); err != nil {
		t.Fatal(err)
	}
	return b
}

// checkLossyCoil reads K·(jω)^n off the blocked coil of a design: its phase,
// how it grows, and the inductance and conductance side by side that are the
// same.
func checkLossyCoil(t *testing.T, r *published) {
	k, n, f := r.input(t, "K"), r.input(t, "n"), r.input(t, "f")
	m := buildText(t, sealedText(driverText(40, 0.4, 5, 0.05, 0.02, `coil {
    k = `+number(k)+`
    n = `+number(n)+`
  }`), 0.05, ""))
	b := NewBench(m)
	coil := m.Mounts[0].Coil
	z := func(f float64) complex128 {
		return coil.Blocked(b.solved(t, f).Workspace().Point()) - complex(b.Values[coil.Resistance], 0)
	}
	at := z(f)
	r.check(t, "phase_deg", Degrees(at))
	r.check(t, "slope_dB_oct", 20*math.Log10(cmplx.Abs(z(2*f)/at)))
	y := 1 / at
	r.check(t, "Gp", real(y))
	r.check(t, "Lp", -1/(imag(y)*2*math.Pi*f))
}
