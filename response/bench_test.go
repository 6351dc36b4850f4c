package response

import (
	"testing"

	"ocarina/formula"
)

// The design is the example of the design file, two ported chambers in series
// with exact duct losses and the outside's load.

// BenchmarkSweep500 solves 500 frequencies from 10 Hz to 1 kHz and reads every
// curve and the level.
func BenchmarkSweep500(b *testing.B) {
	bench := NewBench(open(b, dunlin))
	frequency := LogSpaced(10, 1000, 500)
	var c Curves
	c.Prepare(bench.Model, len(frequency))
	level := make([]float64, len(frequency))
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		if err := bench.Sweep(frequency, &c); err != nil {
			b.Fatal(err)
		}
		for i, p := range c.Pressure {
			level[i] = Level(p)
		}
	}
}

// searched are the dimensions that a search turns.
var searched = []struct {
	part, key string
	index     int
}{{"near", "volume", 0}, {"inner", "length", 0}, {"inner", "diameter", 0}, {"mouth", "length", 0}, {"far", "size", 0}}

// turned returns a bench of the example and a function that moves its searched
// dimensions a little, another way each time.
func turned(b *testing.B) (bench *Bench, turn func()) {
	bench = NewBench(open(b, dunlin))
	m := bench.Model
	var refs []formula.Ref
	for _, s := range searched {
		i := m.Find(s.part, s.key, s.index)
		if i < 0 {
			b.Fatalf("no %s %s", s.part, s.key)
		}
		refs = append(refs, m.Dimensions[i].Ref)
	}
	n := 0
	return bench, func() {
		n++
		for i, r := range refs {
			bench.Values[r] = m.Graph.Value(r) * (1 + 1e-3*float64((n+i)%16))
		}
		bench.Follow()
	}
}

// tonesOf returns the design's trial tones, Hz.
func tonesOf(b *Bench) (list []float64) {
	for _, q := range b.Model.Design.Tones {
		list = append(list, q.SI)
	}
	return list
}

// BenchmarkTones4 is the mean level over the four trial tones after a change of
// dimensions, as a search calls it.
func BenchmarkTones4(b *testing.B) {
	bench, turn := turned(b)
	tones := tonesOf(bench)
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		turn()
		if _, err := bench.MeanLevel(tones); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkScoreGradient is the mean level over the four trial tones with its
// derivative by every dimension.
func BenchmarkScoreGradient(b *testing.B) {
	bench, turn := turned(b)
	tones := tonesOf(bench)
	slopes := make([]float64, len(bench.Model.Dimensions))
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		turn()
		if _, err := bench.MeanLevelGradient(tones, slopes); err != nil {
			b.Fatal(err)
		}
	}
}

// A sweep allocates nothing for each frequency.
func TestSweepAllocatesNothing(t *testing.T) {
	bench := NewBench(open(t, dunlin))
	frequency := LogSpaced(10, 1000, 20)
	var c Curves
	c.Prepare(bench.Model, len(frequency))
	slopes := make([]float64, len(bench.Model.Dimensions))
	if n := testing.AllocsPerRun(10, func() {
		if err := bench.Sweep(frequency, &c); err != nil {
			t.Fatal(err)
		}
		if _, err := bench.MeanLevelGradient(frequency, slopes); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%v allocations in %d frequencies", n, len(frequency))
	}
}
