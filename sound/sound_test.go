package sound

import (
	"math"
	"math/cmplx"
	"testing"
)

func TestLevelOfPressure(t *testing.T) {
	// ISO 1683:2015: p0 = 20 µPa.
	for _, c := range []struct{ p, want float64 }{{1, 93.98}, {20, 120}, {200, 140}} {
		if got := Level(c.p); math.Abs(got-c.want) > 0.001 {
			t.Errorf("Level(%g Pa) = %.4f dB, want %g", c.p, got, c.want)
		}
		if back := Pressure(Level(c.p)); math.Abs(back/c.p-1) > 1e-12 {
			t.Errorf("Pressure(Level(%g)) = %g", c.p, back)
		}
	}
	for _, p := range []float64{0, 1e-300} {
		if Level(p) != Silent {
			t.Errorf("Level(%g) = %g, want Silent", p, Level(p))
		}
	}
}

func TestSums(t *testing.T) {
	// A. Farina, University of Parma, "Decibel values: sum and difference"
	// (lecture slides); 62 dB and 73 dB from a public answer page; the mean
	// follows from the definition in ISO 1996-1.
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"80 and 85", Sum(80, 85), 86.2, 0.05},
		{"80 and 80", Sum(80, 80), 83.0, 0.05},
		{"62 and 73", Sum(62, 73), 73.3, 0.05},
		{"80 and 85 in phase", SumInPhase(80, 85), 88.9, 0.05},
		{"80 and 80 in phase", SumInPhase(80, 80), 86.0, 0.05},
		{"85 without 80", Without(85, 80), 83.35, 0.005},
		{"mean of 80 and 90", Mean(80, 90), 87.4, 0.005},
		{"nothing", Sum(), Silent, 0},
		{"mean of nothing", Mean(), Silent, 0},
		{"80 without 80", Without(80, 80), Silent, 0},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s: %.4f dB, want %g", c.name, c.got, c.want)
		}
	}
}

// table61672 holds the exact frequencies 10·10^(n/10) of IEC 61672-1:2013
// Table 3 with its A and C weightings (read from a public copy of the table)
// and the acceptance limits of class 1 (from memory; no lower limit is -Inf).
var table61672 = []struct{ a, c, above, below float64 }{
	{-70.4, -14.3, 3.0, math.Inf(-1)}, // 10
	{-63.4, -11.2, 2.5, math.Inf(-1)},
	{-56.7, -8.5, 2.0, -4.0},
	{-50.5, -6.2, 2.0, -2.0}, // 20
	{-44.7, -4.4, 2.0, -1.5},
	{-39.4, -3.0, 1.5, -1.5},
	{-34.6, -2.0, 1.0, -1.0},
	{-30.2, -1.3, 1.0, -1.0}, // 50
	{-26.2, -0.8, 1.0, -1.0},
	{-22.5, -0.5, 1.0, -1.0},
	{-19.1, -0.3, 1.0, -1.0}, // 100
	{-16.1, -0.2, 1.0, -1.0},
	{-13.4, -0.1, 1.0, -1.0},
	{-10.9, 0, 1.0, -1.0},
	{-8.6, 0, 1.0, -1.0},
	{-6.6, 0, 1.0, -1.0},
	{-4.8, 0, 1.0, -1.0},
	{-3.2, 0, 1.0, -1.0}, // 500
	{-1.9, 0, 1.0, -1.0},
	{-0.8, 0, 1.0, -1.0},
	{0, 0, 0.7, -0.7}, // 1000
	{0.6, 0, 1.0, -1.0},
	{1.0, -0.1, 1.0, -1.0},
	{1.2, -0.2, 1.0, -1.0},
	{1.3, -0.3, 1.0, -1.0},
	{1.2, -0.5, 1.0, -1.0},
	{1.0, -0.8, 1.0, -1.0},
	{0.5, -1.3, 1.5, -1.5}, // 5000
	{-0.1, -2.0, 1.5, -2.0},
	{-1.1, -3.0, 1.5, -2.5},
	{-2.5, -4.4, 2.0, -3.0}, // 10000
	{-4.3, -6.2, 2.0, -5.0},
	{-6.6, -8.5, 2.5, -16.0},
	{-9.3, -11.2, 3.0, math.Inf(-1)},
}

func TestWeightingTable(t *testing.T) {
	for n, row := range table61672 {
		f := 10 * math.Pow(10, float64(n)/10)
		// The table is rounded to 0.1 dB.
		if got := A.At(f); math.Abs(got-row.a) > 0.051 {
			t.Errorf("A at %.1f Hz: %.3f dB, table %g", f, got, row.a)
		}
		if got := C.At(f); math.Abs(got-row.c) > 0.051 {
			t.Errorf("C at %.1f Hz: %.3f dB, table %g", f, got, row.c)
		}
		if Z.At(f) != 0 {
			t.Errorf("Z at %.1f Hz: %g dB", f, Z.At(f))
		}
	}
	if A.At(0) != Silent || C.At(-3) != Silent {
		t.Error("A and C pass something at 0 Hz")
	}
}

func TestWeightingConstants(t *testing.T) {
	// IEC 61672-1:2013 Annex E prints these.
	for i, c := range []struct{ got, want float64 }{
		{pole1, 20.598997}, {pole2, 107.65265}, {pole3, 737.86223}, {pole4, 12194.217},
	} {
		if math.Abs(c.got/c.want-1) > 1e-7 {
			t.Errorf("pole %d = %.7f Hz, want %g", i+1, c.got, c.want)
		}
	}
	for _, c := range []struct {
		w    Weighting
		want float64
	}{{A, -2.000}, {C, -0.062}, {Z, 0}} {
		if got := c.w.Norm(); math.Abs(got-c.want) > 0.0006 {
			t.Errorf("%v1000 = %.4f dB, want %g", c.w, got, c.want)
		}
	}
}

func TestFilterClass1(t *testing.T) {
	for _, rate := range []int{44100, 48000, 88200, 96000, 192000} {
		for _, w := range []Weighting{A, C} {
			f, err := NewFilter(w, rate)
			if err != nil {
				t.Fatal(err)
			}
			var worst, at float64
			for n, row := range table61672 {
				hz := 10 * math.Pow(10, float64(n)/10)
				want := row.a
				if w == C {
					want = row.c
				}
				got := 20 * math.Log10(cmplx.Abs(f.response(hz/float64(rate))))
				if d := got - want; d > row.above || d < row.below {
					t.Errorf("%v at %d Hz: %.1f Hz is %.2f dB off the table, class 1 allows %+g %+g", w, rate, hz, d, row.above, row.below)
				}
				if d := math.Abs(got - w.At(hz)); hz < 13000 && d > worst {
					worst, at = d, hz
				}
			}
			// Much closer than class 1: a filter that slipped would show here first.
			if worst > 0.12 {
				t.Errorf("%v at %d Hz departs %.2f dB from the curve at %.0f Hz", w, rate, worst, at)
			}
			t.Logf("%v at %d Hz: at most %.3f dB from the curve (%.0f Hz)", w, rate, worst, at)
		}
	}
}

// TestFilterSignal runs real tones through Process, in uneven blocks, and
// compares the level with the table.
func TestFilterSignal(t *testing.T) {
	const rate = 48000
	for _, w := range []Weighting{A, C, Z} {
		for _, n := range []int{3, 7, 13, 20, 27, 30} {
			hz := 10 * math.Pow(10, float64(n)/10)
			f, err := NewFilter(w, rate)
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, 2*rate)
			for i := range x {
				x[i] = math.Sin(2 * math.Pi * hz * float64(i) / rate)
			}
			for i, step := 0, 1; i < len(x); i, step = i+step, step*3+1 {
				end := min(len(x), i+step)
				f.Process(x[i:end], x[i:end])
			}
			var e float64
			for _, v := range x[rate:] {
				e += v * v
			}
			got := 10 * math.Log10(2*e/rate)
			want := map[Weighting]float64{A: table61672[n].a, C: table61672[n].c}[w]
			if math.Abs(got-want) > 0.15 {
				t.Errorf("%v: a tone of %.1f Hz came out at %.2f dB, table %g", w, hz, got, want)
			}
		}
	}
}

func TestFilterRefusesLowRate(t *testing.T) {
	if _, err := NewFilter(A, 4000); err == nil {
		t.Error("4 kHz accepted")
	}
}

func BenchmarkFilterA(b *testing.B) {
	f, err := NewFilter(A, 48000)
	if err != nil {
		b.Fatal(err)
	}
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(float64(i) * 0.01)
	}
	b.SetBytes(int64(len(x)))
	for b.Loop() {
		f.Process(x, x)
	}
}
