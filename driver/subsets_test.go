package driver

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"ocarina/formula"
)

// symbols are what a data sheet may give beside Re and Sd, and the logarithm of
// each, linearised about a motor, in those of ωs, ωs·Mms, Rms and Bl²/Re:
// Mms = (ωs·Mms)/ωs, Cms = 1/(ωs·(ωs·Mms)), Qms = ωs·Mms/Rms, and so on.
func symbols(values map[string]float64) (names []string, rows map[string][4]float64) {
	share := values["rms"] / (values["rms"] + values["bl"]*values["bl"]/values["re"]) // of Rms in all damping
	rows = map[string][4]float64{
		"fs": {1, 0, 0, 0}, "mms": {-1, 1, 0, 0}, "mmd": {-1, 1, 0, 0}, "cms": {-1, -1, 0, 0}, "vas": {-1, -1, 0, 0},
		"rms": {0, 0, 1, 0}, "bl": {0, 0, 0, 0.5}, "qms": {0, 1, -1, 0}, "qes": {0, 1, 0, -1}, "qts": {0, 1, -share, share - 1},
	}
	for name := range rows {
		names = append(names, name)
	}
	slices.Sort(names)
	return names, rows
}

// rank is how many of the rows are independent.
func rank(rows [][4]float64) (n int) {
	rows = slices.Clone(rows)
	for c := range 4 {
		best := -1
		for i := n; i < len(rows); i++ {
			if math.Abs(rows[i][c]) > 1e-9 && (best < 0 || math.Abs(rows[i][c]) > math.Abs(rows[best][c])) {
				best = i
			}
		}
		if best < 0 {
			continue
		}
		rows[n], rows[best] = rows[best], rows[n]
		for i := n + 1; i < len(rows); i++ {
			f := rows[i][c] / rows[n][c]
			for k := range 4 {
				rows[i][k] -= f * rows[n][k]
			}
		}
		n++
	}
	return n
}

// Every subset of a random driver's data that determines it gives the driver
// back; every other is refused by a message that names something whose giving
// would help.
func TestEverySubset(t *testing.T) {
	const seed = 11
	random := rand.New(rand.NewPCG(seed, 1))
	between := func(a, b float64) float64 { return a * math.Pow(b/a, random.Float64()) }
	for range 4 {
		v := map[string]float64{"re": between(2, 12), "sd": between(20e-4, 0.1), "mms": 0, "cms": between(1e-4, 3e-3), "rms": between(0.2, 5), "bl": between(2, 20)}
		air := 16.0 / 3 * medium.Density * math.Pow(v["sd"]/math.Pi, 1.5)
		v["mmd"] = between(2, 20) * air
		v["mms"] = v["mmd"] + air
		omega := 1 / math.Sqrt(v["mms"]*v["cms"])
		v["fs"] = omega / (2 * math.Pi)
		v["qms"] = omega * v["mms"] / v["rms"]
		v["qes"] = omega * v["mms"] * v["re"] / (v["bl"] * v["bl"])
		v["qts"] = 1 / (1/v["qms"] + 1/v["qes"])
		v["vas"] = medium.Density * medium.Speed * medium.Speed * v["cms"] * v["sd"] * v["sd"]
		names, rows := symbols(v)
		solved := 0
		for set := range 1 << len(names) {
			g := new(formula.Graph)
			s := Blank()
			s.Re, s.Sd = g.Input(v["re"]), g.Input(v["sd"])
			at := map[string]*formula.Ref{"fs": &s.Fs, "qms": &s.Qms, "qes": &s.Qes, "qts": &s.Qts, "vas": &s.Vas, "mms": &s.Mms, "mmd": &s.Mmd, "cms": &s.Cms, "rms": &s.Rms, "bl": &s.Bl}
			var given []string
			var equations [][4]float64
			for i, name := range names {
				if set>>i&1 == 1 {
					*at[name] = g.Input(v[name])
					given = append(given, name)
					equations = append(equations, rows[name])
				}
			}
			m, off, err := Derive(g, s, medium)
			known := rank(equations)
			if known < 4 {
				var missing *MissingError
				if !errors.As(err, &missing) {
					t.Errorf("seed %d, %v: %v, want a word about what is missing", seed, given, err)
					continue
				}
				helps := false
				for _, word := range strings.FieldsFunc(missing.Wanted, func(r rune) bool { return r == ' ' || r == ',' }) {
					if row, ok := rows[word]; ok && rank(append(equations[:len(equations):len(equations)], row)) > known {
						helps = true
					}
				}
				if !helps {
					t.Errorf("seed %d, %v: nothing named would help: %v", seed, given, err)
				}
				continue
			}
			solved++
			if err != nil || len(off) > 0 {
				t.Errorf("seed %d, %v: %v %v", seed, given, err, off)
				continue
			}
			for name, ref := range map[string]formula.Ref{"mms": m.Loaded, "cms": m.Cms, "rms": m.Rms, "bl": m.Bl, "fs": m.Fs, "qms": m.Qms, "qes": m.Qes, "qts": m.Qts, "vas": m.Vas} {
				if ref == Unknown || math.Abs(g.Value(ref)/v[name]-1) > 1e-9 {
					t.Errorf("seed %d, %v: another %s", seed, given, name)
				}
			}
		}
		if solved < 400 {
			t.Errorf("only %d of %d sets determine a driver", solved, 1<<len(names))
		}
	}
}

// A disagreement is told of one value or of several.
func TestDisagreementInWords(t *testing.T) {
	for by, want := range map[string]string{
		"qes":                   "gives bl as 7, but qes makes it 9.8 (SI units): more than 5 % apart. That is used.",
		"fs and the suspension": "gives bl as 7, but fs and the suspension make it 9.8 (SI units): more than 5 % apart. These are used.",
	} {
		if got := (Disagreement{Key: "bl", By: by, Given: 7, FromOthers: 9.8}).String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
