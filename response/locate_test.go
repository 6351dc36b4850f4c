package response

import (
	"math"
	"testing"
)

// A peak or dip is located to 1e-10 of its frequency in a handful of solves.
func BenchmarkFeatures(b *testing.B) {
	bench := NewBench(open(b, dunlin))
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		if _, err := bench.Features(DefaultFrom, DefaultTo); err != nil {
			b.Fatal(err)
		}
	}
}

// Where a turn is located, the size of Z is level: its tilt has the other sign a
// hundred millionth away to either side.
func TestLocatedTurnsAreLevel(t *testing.T) {
	b := NewBench(open(t, dunlin))
	list, err := b.scan(DefaultFrom, DefaultTo)
	if err != nil {
		t.Fatal(err)
	}
	turns := 0
	for i := 1; i < len(list); i++ {
		p, q := list[i-1], list[i]
		if (p.tilt > 0) == (q.tilt > 0) {
			continue
		}
		turns++
		s, err := b.locate(p, q)
		if err != nil {
			t.Fatal(err)
		}
		before, err := b.scanAt(s.f * (1 - 1e-8))
		if err != nil {
			t.Fatal(err)
		}
		after, err := b.scanAt(s.f * (1 + 1e-8))
		if err != nil {
			t.Fatal(err)
		}
		if !(s.f > p.f && s.f < q.f) || (before.tilt > 0) != (p.tilt > 0) || (after.tilt > 0) != (q.tilt > 0) || math.Abs(s.tilt) > math.Abs(p.tilt) {
			t.Errorf("located at %.12g Hz between %.6g and %.6g: tilt %.2g, %.2g before, %.2g after", s.f, p.f, q.f, s.tilt, before.tilt, after.tilt)
		}
	}
	if turns < 5 {
		t.Errorf("only %d turns", turns)
	}
}
