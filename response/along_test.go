package response

import (
	"fmt"
	"math/cmplx"
	"testing"
)

// A stub is the same air whichever end it is drawn from: places mirrored, travel
// with the other sign. Far below its resonance the air at its mouth follows the
// chamber's pressure inwards, as into a spring: towards its closed end.
func TestAlongAStub(t *testing.T) {
	const box = `
driver "u" {
  re  = "5 ohm"
  sd  = "200 cm2"
  fs  = "35 Hz"
  qms = 5
  qes = 0.5
  vas = "40 L"
}
chamber "c" { volume = "30 L" }
mount "a" {
  driver = driver.u
  front  = outside
  rear   = chamber.c
}
line "stub" {
  from = %s
  to   = %s
  %s
}
`
	wide := "section {\n length = \"0.5 m\"\n area = \"30 cm2\"\n}\n"
	taper := func(a, b string) string {
		return fmt.Sprintf("section {\n length = \"0.7 m\"\n area = \"%s\"\n to_area = \"%s\"\n shape = \"conical\"\n}\n", a, b)
	}
	away := buildText(t, fmt.Sprintf(box, "chamber.c", "closed", wide+taper("30 cm2", "8 cm2")))
	back := buildText(t, fmt.Sprintf(box, "closed", "chamber.c", taper("8 cm2", "30 cm2")+wide))
	for _, f := range []float64{4, 90, 330, 800} {
		read := func(b *Bench) []Air {
			if err := b.Solve(f); err != nil {
				t.Fatal(err)
			}
			return Along(b.Model.Lines[0], b.Values, b.Solution(), f, f)
		}
		one, two := NewBench(away), NewBench(back)
		there, here := read(one), read(two)
		if len(there) != len(here) || len(there) < 4 {
			t.Fatalf("%g Hz: %d and %d places", f, len(there), len(here))
		}
		most, loudest := 0.0, 0.0
		for _, a := range there {
			most, loudest = max(most, cmplx.Abs(a.Travel)), max(loudest, cmplx.Abs(a.Pressure))
		}
		for i, a := range there {
			b := here[len(here)-1-i]
			if off := a.At - (1 - b.At); off > 1e-12 || off < -1e-12 || cmplx.Abs(a.Travel+b.Travel) > 1e-6*most || cmplx.Abs(a.Pressure-b.Pressure) > 1e-6*loudest {
				t.Errorf("%g Hz, place %d: %v drawn away, %v drawn back", f, i, a, b)
			}
		}
		mouth := there[0]
		if p := one.ChamberPressure(away.Chambers[0]); cmplx.Abs(mouth.Pressure-p) > 1e-9*cmplx.Abs(p) {
			t.Errorf("%g Hz: %v Pa at the mouth, %v in the chamber", f, mouth.Pressure, p)
		}
		if f == 4 {
			if q := mouth.Travel / mouth.Pressure; real(q) <= 0 || imag(q) > 0.1*real(q) || imag(q) < -0.1*real(q) {
				t.Errorf("the air at the mouth moves by %v of the pressure", q)
			}
		}
		if last := there[len(there)-1]; last.At != 1 || cmplx.Abs(last.Travel) > 1e-9*most {
			t.Errorf("%g Hz: the air at the closed end moves: %v", f, last)
		}
	}
}
