package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The one-port examples of the Touchstone File Format Specification (IBIS Open
// Forum, versions 1.1 of 2003 and 2.0 of 2009), from memory. The same load is
// given normalised to 75 ohm in version 1 and in ohm in version 2, so the two
// check each other: 0.99·75 = 74.25, 0.80·75 = 60, 0.707·75 = 53.025,
// 0.40·75 = 30, 0.01·75 = 0.75.
const (
	specS1 = `!1-port S-parameter file, single frequency point
# MHz S MA R 50
!freq magS11 angS11
2.000 0.894 -12.136
`
	specZ1 = `!1-port Z-parameter file, multiple frequency points
# MHz Z MA R 75
!freq magZ11 angZ11
100 0.99 -4
200 0.80 -22
300 0.707 -45
400 0.40 -62
500 0.01 -89
`
	specZ2 = `! 1-port Z-parameter file
[Version] 2.0
# MHz Z MA
[Number of Ports] 1
[Number of Frequencies] 5
[Reference] 20.0
[Network Data]
!freq magZ11 angZ11
100 74.25 -4
200 60 -22
300 53.025 -45
400 30 -62
500 0.75 -89
[End]
`
)

func TestTouchstoneExamples(t *testing.T) {
	mag := []float64{74.25, 60, 53.025, 30, 0.75}
	deg := []float64{-4, -22, -45, -62, -89}
	for _, text := range []string{specZ1, specZ2, strings.ReplaceAll(specZ2, "\n", "\r\n")} {
		s, err := Read([]byte(text), "example", Options{})
		if err != nil {
			t.Fatal(err)
		}
		if s.Len() != 5 || len(s.Warnings) != 0 {
			t.Fatalf("read %+v", s)
		}
		for i := range mag {
			if !near(s.Frequency[i], 1e8*float64(i+1), 1e-12) || !near(s.Magnitude[i], mag[i], 1e-12) || !near(s.Phase[i], deg[i]*math.Pi/180, 1e-12) {
				t.Errorf("point %d: %v Hz, %v ohm, %v rad; want %v∠%v°", i, s.Frequency[i], s.Magnitude[i], s.Phase[i], mag[i], deg[i])
			}
		}
	}

	// One frequency is a valid file but no sweep; its value is looked at below
	// the surface. From S = 0.894∠−12.136°: Z = 50·(1+S)/(1−S).
	d := &data{name: "example.s1p", lines: splitLines(specS1)}
	if err := d.readTouchstone(); err != nil {
		t.Fatal(err)
	}
	sv := cmplx.Rect(0.894, -12.136*math.Pi/180)
	want := 50 * (1 + sv) / (1 - sv)
	if p := d.points[0]; p.f != 2e6 || !near(p.mag, cmplx.Abs(want), 1e-12) || !near(p.phase, cmplx.Phase(want), 1e-12) {
		t.Errorf("read %+v, want %v", p, want)
	}
	if _, err := Read([]byte(specS1), "example.s1p", Options{}); err == nil || !strings.Contains(err.Error(), "one row of numbers is not a sweep") {
		t.Errorf("error %v", err)
	}
}

// One load written with every parameter, format, unit and version comes back.
func TestTouchstoneForms(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	units := map[string]float64{"Hz": 1, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}
	for _, version := range []int{1, 2} {
		for _, param := range []string{"S", "Y", "Z"} {
			for _, format := range []string{"RI", "MA", "DB"} {
				for unit, scale := range units {
					r := 1 + 100*rng.Float64()
					var text strings.Builder
					if version == 2 {
						fmt.Fprintf(&text, "[Version] 2.0\n# %s %s %s\n[Number of Ports] 1\n[Reference]\n%.15g ! ohm\n[Begin Information]\nfree 1 2 3\n[End Information]\n[Network Data]\n",
							unit, param, strings.ToLower(format), r)
					} else {
						fmt.Fprintf(&text, "! x\n\n# %s R %.15g %s %s ! mixed\n", unit, r, format, param)
					}
					var zs []complex128
					for i := range 5 {
						z := complex(0.1+60*rng.Float64(), 80*rng.Float64()-40)
						zs = append(zs, z)
						x := z
						norm := complex(r, 0)
						switch {
						case param == "S":
							x = (z - norm) / (z + norm)
						case param == "Y" && version == 1:
							x = norm / z
						case param == "Y":
							x = 1 / z
						case version == 1:
							x = z / norm
						}
						a, b := real(x), imag(x)
						if format != "RI" {
							a, b = cmplx.Abs(x), cmplx.Phase(x)*180/math.Pi
						}
						if format == "DB" {
							a = 20 * math.Log10(a)
						}
						fmt.Fprintf(&text, "%.15g %.17g %.17g ! row\n", float64(10*(i+1))/scale, a, b)
					}
					s, err := Read([]byte(text.String()), "x", Options{})
					if err != nil {
						t.Fatalf("%v\n%s", err, text.String())
					}
					for i, z := range zs {
						if cmplx.Abs(s.Z(i)-z) > 1e-10*cmplx.Abs(z) || !near(s.Frequency[i], float64(10*(i+1)), 1e-12) {
							t.Errorf("point %d is %v Hz %v, want %v\n%s", i, s.Frequency[i], s.Z(i), z, text.String())
						}
					}
				}
			}
		}
	}
}

// The name decides only where the content cannot.
func TestTouchstoneTold(t *testing.T) {
	for _, c := range []struct {
		text, name string
		want       bool
	}{
		{"# Hz Z RI R 1\n", "x.txt", true},
		{"! c\n\n# Z kHz MA\n", "x", true},
		{"# Hz Z\n", "x", false},
		{"# Hz Z\n", "x.S1P", true},
		{"[version] 2.0\n", "x", true},
		{"#\n1 2 3\n", "x.s1p", true},
		{"#\n1 2 3\n", "x.txt", false},
		{"# Hz ohm deg\n1 2 3\n", "x.txt", false},
		{"# Hz\n1 2 3\n", "x.txt", false},
		{"1 2 3\n", "x.ts", true},
		{"Frequency\n", "x.csv", false},
	} {
		if got := isTouchstone(splitLines(c.text), c.name); got != c.want {
			t.Errorf("%q in %s: %v", c.text, c.name, got)
		}
	}
	s, err := Read([]byte("1 0.5 0\n2 0.5 0\n"), "x.s1p", Options{})
	if err != nil || s.Frequency[1] != 2e9 || !near(s.Magnitude[0], 150, 1e-12) || len(s.Warnings) != 1 {
		t.Errorf("without option line: %+v, %v", s, err)
	}
}

func FuzzTouchstone(f *testing.F) {
	for _, s := range []string{specS1, specZ1, specZ2} {
		f.Add([]byte(s), false)
	}
	for _, pattern := range []string{"*.s1p", "*.ts"} {
		paths, _ := filepath.Glob(filepath.Join("testdata", "bad", pattern))
		for _, p := range paths {
			if b, err := os.ReadFile(p); err == nil {
				f.Add(b, true)
			}
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, leaveOut bool) {
		s, err := Read(b, "fuzz.ts", Options{LeaveOut: leaveOut})
		if err != nil {
			_ = err.Error()
			return
		}
		sound(t, s)
	})
}
