package fit

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/sweep"
)

func demos(t *testing.T) (names []string) {
	files, err := filepath.Glob("../demo/*.hcl")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d demo designs, %v", len(files), err)
	}
	for _, f := range files {
		names = append(names, strings.TrimSuffix(filepath.Base(f), ".hcl"))
	}
	return names
}

// Every entry, built as drawn, is found to be as drawn, with each of its features
// at its own place.
func TestEntriesAsDrawn(t *testing.T) {
	for n, entry := range demos(t) {
		t.Run(entry, func(t *testing.T) {
			s := measure(t, build(t, demo(t, entry)), 10, 1000, 300, 0.03, rand.New(rand.NewPCG(uint64(n), 3)))
			res, err := Match(context.Background(), demo(t, entry), s, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range res.Findings {
				t.Errorf("%s (%s): %s", w.Kind, w.Part, w.Reading)
			}
			if res.Residual.Fitted > 0.04 {
				t.Errorf("residual %.3f dB", res.Residual.Fitted)
			}
			for _, v := range res.Features {
				if v.Drawn != nil && v.Fitted != nil && math.Abs(*v.Drawn / *v.Fitted - 1) > 0.02 {
					t.Errorf("the %s drawn at %.2f Hz is fitted at %.2f Hz", v.Kind, *v.Drawn, *v.Fitted)
				}
				within := 0.03
				if v.Kind == sweep.Dip { // some are as flat as the noise
					within = 0.12
				}
				if v.Measured != nil && v.Fitted != nil && math.Abs(*v.Measured / *v.Fitted - 1) > within {
					t.Errorf("the %s measured at %.2f Hz is fitted at %.2f Hz (%s)", v.Kind, *v.Measured, *v.Fitted, v.Owner)
				}
			}
			if _, err := json.Marshal(res); err != nil {
				t.Error(err)
			}
		})
	}
}

// Sweeps of something else altogether end in an answer or an error, never in a
// panic or a number that is not finite.
func TestSweepsOfAnything(t *testing.T) {
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 6))
		s := &sweep.Sweep{Name: "anything"}
		n := 6 + rng.IntN(60)
		f := math.Pow(10, 2*rng.Float64())
		step := 1.02 + 0.3*rng.Float64()
		scale := math.Pow(10, 8*rng.Float64()-4)
		for range n {
			f *= step
			s.Frequency = append(s.Frequency, f)
			s.Magnitude = append(s.Magnitude, scale*math.Exp(rng.NormFloat64()*float64(seed%4)))
			if seed%3 > 0 {
				s.Phase = append(s.Phase, math.Pi*(2*rng.Float64()-1))
			}
		}
		entry := demos(t)[seed%11]
		res, err := Match(context.Background(), demo(t, entry), s, Options{})
		if err != nil {
			continue
		}
		if _, err := json.Marshal(res); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		res.Correct(demo(t, entry)) // may refuse a number out of range
	}
}
