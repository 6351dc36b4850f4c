package fit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"ocarina/response"
)

// Result is what a match found.
type Result struct {
	Features      []Feature   `json:"features"`
	Parameters    []Parameter `json:"parameters"`
	IllDetermined []Together  `json:"ill_determined"`
	Residual      Residual    `json:"residual_db"`
	Noise         float64     `json:"noise_db"` // of one reading, as the residuals tell
	From          float64     `json:"from_hz"`  // band fitted
	To            float64     `json:"to_hz"`
	Findings      []Finding   `json:"findings"`
	Warnings      []string    `json:"warnings"`

	Frequency []float64 `json:"-"` // Hz: the readings fitted
	Measured  []float64 `json:"-"` // |Z| there, ohm
	Drawn     []float64 `json:"-"`
	Fitted    []float64 `json:"-"`

	changes []change
	edits   []edit
}

// Feature is a peak or dip with its owner. A frequency is null where the feature
// is not: one that the sweep does not show is missing, one that the drawing does
// not have is extra.
type Feature struct {
	Kind     string   `json:"kind"`
	Measured *float64 `json:"measured_hz"`
	Drawn    *float64 `json:"drawn_hz"`
	Fitted   *float64 `json:"fitted_hz"`
	Owner    string   `json:"owner"`
	Note     string   `json:"note,omitempty"` // why one is missing or extra

	rank                  string // "upper dip"
	kinetic, potential    map[string]float64
	drawnOhm, measuredOhm float64
}

// Parameter is a number of the design as drawn and as the sweep wants it, in its
// unit.
type Parameter struct {
	Part          string  `json:"part"`
	Key           string  `json:"key"`
	Unit          string  `json:"unit"`
	Drawn         float64 `json:"drawn"`
	Fitted        float64 `json:"fitted"`
	StandardError float64 `json:"standard_error"`
	Determined    bool    `json:"determined"` // the sweep says more about it than was known before
	Prior         float64 `json:"prior"`      // standard deviation allowed beforehand
}

// Change returns the fitted value less the drawn.
func (p Parameter) Change() float64 { return p.Fitted - p.Drawn }

// Together names parameters of which the sweep tells a combination only.
type Together struct {
	Parameters []string `json:"parameters"`
	Reading    string   `json:"reading"`
}

// Residual is the root mean square difference of |Z| in dB, before and after.
type Residual struct {
	Drawn  float64 `json:"drawn"`
	Fitted float64 `json:"fitted"`
}

// Finding is what a match means, in plain words with its evidence.
type Finding struct {
	Kind    string `json:"kind"`
	Part    string `json:"part"`
	Reading string `json:"reading"`
}

func (f *fitting) result() (*Result, error) {
	r := &Result{
		Features: []Feature{}, Parameters: []Parameter{}, IllDetermined: []Together{}, Findings: []Finding{}, Warnings: []string{},
		Residual: Residual{f.drawnResidual, f.fittedResidual}, Noise: decibels * f.noise, From: f.from, To: f.to,
	}
	if err := f.pair(r); err != nil {
		return nil, err
	}
	f.curves(r)
	f.parameters(r)
	f.combinations(r)
	f.findings(r)
	r.Warnings = append(append(r.Warnings, f.model.Warnings...), f.sweep.Warnings...)
	r.Warnings = append(r.Warnings, f.warnings...)
	r.changes, r.edits = f.changes(), f.texts
	return r, nil
}

func (f *fitting) curves(r *Result) {
	f.fine.evaluate(make([]float64, len(f.free)), make([]float64, f.fine.residuals()), nil)
	r.Drawn = append(r.Drawn, f.fine.size...)
	f.fine.evaluate(f.x, make([]float64, f.fine.residuals()), nil)
	r.Fitted = append(r.Fitted, f.fine.size...)
	for _, d := range f.fine.readings {
		r.Frequency = append(r.Frequency, d.frequency)
		r.Measured = append(r.Measured, math.Exp(d.size))
	}
}

// pair gives every feature its partner: drawn to fitted by following, fitted to
// measured by nearness.
func (f *fitting) pair(r *Result) error {
	low, high := f.sweep.Frequency[0], f.sweep.Frequency[f.sweep.Len()-1]
	x := make([]float64, len(f.x))
	w := &walker{bench: f.bench, from: low / margin, to: high * margin, path: func(t float64) {
		for j := range x {
			x[j] = t * f.x[j]
		}
		f.fine.set(x)
	}}
	drawn, fitted, partner, err := w.follow()
	if err != nil {
		return err
	}
	seen := make([]spot, len(f.measured))
	for i, v := range f.measured {
		seen[i] = spot{v.Kind, v.Frequency, v.Height}
	}
	model := spots(fitted)
	loose := 1 + f.fittedResidual // a poor fit places its features poorly
	link := align(model, seen, 1, func(i, j int) float64 {
		apart := math.Abs(math.Log(seen[j].frequency/model[i].frequency)) / (0.012*loose + 3*f.measured[j].FrequencyError/seen[j].frequency)
		taller := math.Abs(math.Log(seen[j].height/model[i].height)) / (0.3 * loose)
		return apart + taller
	})
	from := make([]int, len(fitted)) // drawn feature of each fitted one
	for i := range from {
		from[i] = -1
	}
	for i, p := range partner {
		if p >= 0 {
			from[p] = i
		}
	}
	taken := make([]bool, len(seen))
	inside := func(v float64) bool { return v >= low && v <= high }
	var list []Feature
	for i := range fitted {
		v := Feature{Kind: fitted[i].Kind, Fitted: &fitted[i].Frequency}
		v.from(fitted, i)
		if p := from[i]; p >= 0 {
			v.Drawn, v.drawnOhm = &drawn[p].Frequency, drawn[p].Impedance
			v.from(drawn, p)
		} else {
			v.Note = "extra: the drawing does not have it, the corrected box does"
		}
		if j := link[i]; j >= 0 {
			taken[j] = true
			v.Measured, v.measuredOhm = &f.measured[j].Frequency, f.measured[j].Height
		} else if !inside(*v.Fitted) {
			continue
		} else {
			v.Note = "missing: the sweep shows none here"
			if s := stands(fitted, i); s < 0.5 {
				v.Note += fmt.Sprintf("; it would stand out by %.2g dB only", s)
			}
		}
		list = append(list, v)
	}
	for i, p := range partner {
		if p < 0 && inside(drawn[i].Frequency) {
			v := Feature{Kind: drawn[i].Kind, Drawn: &drawn[i].Frequency, Note: "missing: on the way to the box as measured it merges with a neighbour"}
			v.from(drawn, i)
			list = append(list, v)
		}
	}
	for j := range seen {
		if !taken[j] {
			list = append(list, Feature{Kind: seen[j].kind, Measured: &f.measured[j].Frequency, Owner: "no part of the drawing", Note: "extra: the model has none here"})
		}
	}
	sortFeatures(list)
	r.Features = append(r.Features, list...)
	return nil
}

// from takes over what is known about a feature of the model.
func (v *Feature) from(list []response.Feature, i int) {
	v.Owner, v.rank, v.kinetic, v.potential = list[i].Owner, response.Rank(list, i), list[i].Kinetic, list[i].Potential
}

// stands is by how much a feature stands out from its lower neighbour, dB.
func stands(list []response.Feature, i int) float64 {
	least := math.Inf(1)
	for _, k := range [2]int{i - 1, i + 1} {
		if k >= 0 && k < len(list) {
			least = math.Min(least, math.Abs(decibels*math.Log(list[i].Impedance/list[k].Impedance)))
		}
	}
	return least
}

func (v *Feature) place() float64 {
	for _, f := range [3]*float64{v.Measured, v.Fitted, v.Drawn} {
		if f != nil {
			return *f
		}
	}
	return 0
}

func (f *fitting) parameters(r *Result) {
	if f.solved == nil {
		return
	}
	for j := range f.free {
		p := &f.free[j]
		k := math.Abs(p.scale / p.unitSI)
		r.Parameters = append(r.Parameters, Parameter{
			Part: p.part, Key: p.key, Unit: p.unit, Drawn: p.drawn / p.unitSI, Fitted: p.at(f.x[j]) / p.unitSI,
			StandardError: k * f.solved.StandardError[j], Determined: f.solved.Learned[j] > 0.5, Prior: k * p.sigma,
		})
	}
}

// combinations names what the sweep cannot tell apart.
func (f *fitting) combinations(r *Result) {
	if f.solved == nil {
		return
	}
	for _, d := range f.solved.Directions {
		if !d.IllDetermined {
			continue
		}
		var t Together
		for j, v := range d.Vector {
			if math.Abs(v) > 0.35 {
				t.Parameters = append(t.Parameters, f.free[j].name())
			}
		}
		switch n := len(t.Parameters); {
		case n == 0:
			continue
		case n == 1:
			t.Reading = fmt.Sprintf("The sweep tells next to nothing about %s: it stays where the build tolerance puts it.", t.Parameters[0])
		default:
			t.Reading = fmt.Sprintf("The sweep tells one combination of %s and not each: they can make up for one another.", strings.Join(t.Parameters, ", "))
		}
		r.IllDetermined = append(r.IllDetermined, t)
	}
}

func sortFeatures(list []Feature) {
	slices.SortStableFunc(list, func(a, b Feature) int { return cmp.Compare(a.place(), b.place()) })
}
