package acoustic

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

func apart(got, want complex128) float64 { return cmplx.Abs(got-want) / cmplx.Abs(want) }

// shearNumbers covers [0, 60] densely around the change of method at s = 24.
func shearNumbers() []float64 {
	s := []float64{0, 1e-9, 1e-6, 1e-4, 0.01, 0.1, 0.5, 0.9999999, 1, 23, 23.9, 23.999999999,
		math.Nextafter(wide, 0), wide, 24.0001, 24.5, 26, 300, 1000}
	random := rand.New(rand.NewPCG(1, 2))
	for range 150 {
		s = append(s, 60*random.Float64())
	}
	return s
}

func TestLossRatioAgainstWideArithmetic(t *testing.T) {
	var worst, worstSlope, worstRest float64
	for _, s := range shearNumbers() {
		F, dF := LossRatio(s)
		E, dE := LossComplement(s)
		wantF, wantSlope, wantE := bigLoss(s)
		if s == 0 {
			if F != 1 || dF != 0 || E != 0 || dE != 0 {
				t.Errorf("at 0: F %v, dF %v, E %v, dE %v", F, dF, E, dE)
			}
			continue
		}
		if only := LossRatioOnly(s); only != F {
			t.Errorf("s = %g: LossRatioOnly %v, LossRatio %v", s, only, F)
		}
		if dE != -dF {
			t.Errorf("s = %g: dE %v, dF %v", s, dE, dF)
		}
		e, es, er := apart(F, wantF), apart(dF, wantSlope), apart(E, wantE)
		worst, worstSlope, worstRest = max(worst, e), max(worstSlope, es), max(worstRest, er)
		if !(e < 1e-12 && es < 1e-11 && er < 1e-12) {
			t.Errorf("s = %g: relative errors F %.1e, dF %.1e, 1−F %.1e", s, e, es, er)
		}
	}
	t.Logf("largest relative error: F %.1e, dF/ds %.1e, 1−F %.1e", worst, worstSlope, worstRest)
}

func TestLossRatioInWideDucts(t *testing.T) {
	for _, s := range []float64{500, 1e3, 3e3, 1e4, 1e5, 1e6} {
		F, dF := LossRatio(s)
		if e := apart(F, asymptoticLoss(s)); !(e < 1e-12) {
			t.Errorf("s = %g: relative error %.1e", s, e)
		}
		// F = 2q − q² − …, q = 1/z, so s·dF/ds = −2q + 2q² + (3/4)q³ + O(q⁴)
		q := complex(math.Sqrt2/2/s, -math.Sqrt2/2/s)
		want := (-2*q + 2*q*q + 0.75*q*q*q) / complex(s, 0)
		if e := apart(dF, want); !(e < 4/(s*s*s)+1e-12) {
			t.Errorf("s = %g: relative error of the slope %.1e", s, e)
		}
	}
	if F, dF := LossRatio(math.Inf(1)); F != 0 || dF != 0 {
		t.Errorf("at infinity: %v, %v", F, dF)
	}
}

func TestLossRatioSlope(t *testing.T) {
	for _, s := range []float64{0.7, 2, 5, 11, 19, 23.5, 30, 99, 1e4} {
		h := 1e-5 * s
		up, _ := LossRatio(s + h)
		down, _ := LossRatio(s - h)
		_, dF := LossRatio(s)
		if e := apart(dF, (up-down)/complex(2*h, 0)); !(e < 1e-8) {
			t.Errorf("s = %g: slope off by %.1e", s, e)
		}
	}
}

// The constants of the asymptotic series must satisfy the Riccati equation
// they come from; all but the last two are short dyadic fractions, so exactly.
func TestAsymptoticCoefficients(t *testing.T) {
	have := []float64{0, c1, c2, c3, c4, c5, c6, c7, c8, c9, c10, c11, c12, c13, c14, c15, c16}
	c := []float64{0, 0.5}
	for k := 2; k < len(have); k++ {
		next := float64(k-2) * c[k-1]
		for i := 1; i < k; i++ {
			next += c[i] * c[k-i]
		}
		c = append(c, next/2)
	}
	for k := range have {
		if math.Abs(have[k]-c[k]) > 4e-16*c[k] {
			t.Errorf("c%d is %v, the recurrence gives %v", k, have[k], c[k])
		}
	}
}
