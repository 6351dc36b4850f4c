package sweep

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/internal/need"
	"ocarina/wav"
)

// The circuit: a source behind 10 ohm feeds a coil with a lossy part and two
// coupled resonances, as of a driver in a vented box (invented values).
const circuit = `* impedance behind a series resistor
R0 src load 10
Re load a 5.6
Le a b 0.4m
L2 b c 0.5m
R2 b c 9
Rp c 0 55
Cp c 0 480u
Lp c 0 28m
Lv c d 19m
Cv d e 700u
Rv e 0 0.8
`

// runSpice runs a deck and returns the table it wrote to out.txt.
func runSpice(t *testing.T, deck string) [][]float64 {
	t.Helper()
	spice := need.Program(t, "ngspice")
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "deck.cir"), []byte(deck), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(spice, "-b", "deck.cir")
	cmd.Dir = dir
	if msg, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ngspice: %v\n%s", err, msg)
	}
	f, err := os.Open(filepath.Join(dir, "out.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]float64
	for sc := bufio.NewScanner(f); sc.Scan(); {
		var row []float64
		for _, w := range strings.Fields(sc.Text()) {
			v, ok := dialects[0].number(w)
			if !ok {
				t.Fatalf("ngspice wrote %q", w)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	return rows
}

// A recording made by a circuit simulator in the time domain, against the
// impedance the same simulator gives in the frequency domain. Neither knows
// anything of this package: the signals are written out as formulas.
func TestAgainstCircuitSimulation(t *testing.T) {
	const (
		rate    = 8000
		seconds = 8
		from    = 10.0
		to      = 1000.0
	)
	ac := runSpice(t, circuit+`V1 src 0 AC 1
.control
ac dec 400 8 1200
let z = 10*v(load)/(v(src)-v(load))
set wr_singlescale
wrdata out.txt real(z) imag(z)
quit
.endc
.end
`)
	z := func(f float64) complex128 {
		x := math.Log(f/ac[0][0]) / math.Log(ac[1][0]/ac[0][0])
		i := max(1, min(len(ac)-3, int(x)))
		u := x - float64(i)
		// cubic through four points: the curve itself adds no error
		c := [4]float64{-u * (u - 1) * (u - 2) / 6, (u + 1) * (u - 1) * (u - 2) / 2, -(u + 1) * u * (u - 2) / 2, (u + 1) * u * (u - 1) / 6}
		var s complex128
		for k, w := range c {
			s += complex(w, 0) * complex(ac[i-1+k][1], ac[i-1+k][2])
		}
		return s
	}

	gate := "max(0,min(1,(time-0.3)*4))*max(0,min(1,(7-time)*12))"
	span := 6.7 / math.Log(to/from)
	glide := fmt.Sprintf("V=sin(%.12g*(exp(max(0,time-0.3)/%.12g)-1))*%s", 2*math.Pi*from*span, span, gate)

	var steps strings.Builder
	steps.WriteString("V=0")
	for i := range 14 {
		f := from * math.Pow(to/from, float64(i)/13)
		at := 0.2 + 0.5*float64(i)
		fmt.Fprintf(&steps, "+sin(%.12g*time)*max(0,min(1,(time-%.4g)*8))*max(0,min(1,(%.4g-time)*8))", 2*math.Pi*f, at, at+0.5)
	}

	// Noise: a new value every two milliseconds, a straight line between them,
	// and what that holds above half the sampling rate filtered off.
	rng := rand.New(rand.NewPCG(2, 7))
	var hiss strings.Builder
	hiss.WriteString("V=2*v(soft)*" + gate + "\nRn hiss soft 1k\nCn soft 0 0.8u\nVn hiss 0 PWL(0 0")
	for i := 1; i < 500*seconds; i++ {
		fmt.Fprintf(&hiss, "\n+ %dm %.4f", 2*i, 0.3*rng.NormFloat64())
	}
	hiss.WriteString(")")

	for _, c := range []struct {
		name, source string
		to           float64 // Hz
		step         float64 // of the simulation at most, µs
		least        int
	}{
		{"sweep", glide, to, 31.25, 200},
		{"stepped tone", steps.String(), to, 31.25, 14},
		{"noise", hiss.String(), 250, 62.5, 120}, // as far as a value every two milliseconds goes
	} {
		t.Run(c.name, func(t *testing.T) {
			rows := runSpice(t, circuit+"B1 src 0 "+c.source+fmt.Sprintf(`
.options reltol=1e-5 interp
.control
tran 125u 8 0 %gu
set wr_singlescale
wrdata out.txt v(src) v(load)
quit
.endc
.end
`, c.step))
			if len(rows) < seconds*rate {
				t.Fatalf("%d samples", len(rows))
			}
			x := [][]float64{make([]float64, seconds*rate), make([]float64, seconds*rate)}
			for i := range x[0] {
				if math.Abs(rows[i][0]*rate-float64(i)) > 1e-3 {
					t.Fatalf("sample %d is at %v s", i, rows[i][0])
				}
				x[0][i], x[1][i] = 0.4*rows[i][1], 0.4*rows[i][2]
			}
			var b bytes.Buffer
			if err := wav.Write(&b, wav.Format{Rate: rate, Bits: 24}, x); err != nil {
				t.Fatal(err)
			}
			s, err := Read(b.Bytes(), "spice.wav", Options{Series: 10, From: 0.95 * from, To: 1.05 * c.to})
			if err != nil {
				t.Fatal(err)
			}
			db, deg, a, at := worst(s, z, 0, 1e9)
			t.Logf("%d points, worst %.4f dB at %.2f Hz, %.3f° at %.2f Hz, %d left out", s.Len(), db, a, deg, at, s.Skipped)
			if db > 0.1 || deg > 1 {
				t.Errorf("%.4f dB at %.2f Hz, %.3f° at %.2f Hz; want 0.1 and 1", db, a, deg, at)
			}
			if s.Len() < c.least || s.Frequency[0] > 10.5 || s.Frequency[s.Len()-1] < 0.96*c.to {
				t.Errorf("%d points from %.2f to %.1f Hz", s.Len(), s.Frequency[0], s.Frequency[s.Len()-1])
			}
		})
	}
}
