package fit

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/response"
	"ocarina/sweep"
)

var update = flag.Bool("update", false, "write the demo sweeps anew")

// invented are the demo's sweeps: how each box differs from its drawing, and what
// a match must find.
var invented = []struct {
	entry, file, story string
	edits              []edit
	leak               string // a chamber that leaks
	kind, part         string
}{
	{"dunlin", "dunlin.csv", "inner was cut 39 mm long, drawn are 30 mm",
		[]edit{{"inner", "length", "39 mm"}, {"near", "volume", "0.94 L"}, {"mouth", "length", "70.6 mm"}, {"small", "re", "3.33 ohm"}}, "",
		PortLong, "inner"},
	{"plover", "plover.csv", "a cable hole was left open in rear",
		[]edit{{"rear", "volume", "1.31 L"}, {"mouth", "length", "41.6 mm"}, {"small", "qms", "4.3"}}, "rear",
		Leak, "rear"},
	{"sanderling", "sanderling.csv", "another driver than the drawn one is in the box",
		[]edit{{"small", "fs", "61 Hz"}, {"small", "re", "5.6 ohm"}, {"small", "qes", "0.42"}, {"small", "qms", "6.1"}, {"small", "vas", "2.6 L"}, {"small", "le", "0.42 mH"}}, "",
		DriverOff, "small"},
}

func demo(t *testing.T, entry string) *design.Design {
	t.Helper()
	d, diags := design.ReadFile("../demo/" + entry + ".hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return d
}

// TestDemoSweeps makes the demo's sweeps anew, compares them with the files and
// lets a match find what is wrong with each box.
func TestDemoSweeps(t *testing.T) {
	for n, v := range invented {
		t.Run(v.file, func(t *testing.T) {
			d := demo(t, v.entry)
			for _, e := range v.edits {
				if err := d.SetText(e.part, e.key, e.text); err != nil {
					t.Fatal(err)
				}
			}
			if v.leak != "" {
				if err := d.AddBlock("leak", "hole"); err != nil {
					t.Fatal(err)
				}
				for _, e := range []edit{{"hole", "from", "chamber." + v.leak}, {"hole", "to", "outside"}, {"hole", "resistance", "900000 Pa*s/m3"}} {
					if err := d.SetText(e.part, e.key, e.text); err != nil {
						t.Fatal(err)
					}
				}
			}
			rng := rand.New(rand.NewPCG(uint64(n), 1848))
			s := measure(t, build(t, d), 10, 1000, 320, 0.04, rng)
			var text bytes.Buffer
			fmt.Fprintf(&text, "# Invented: computed from %s.hcl and noise, no box was measured.\n# In this story %s.\nfrequency Hz, |Z| ohm, phase deg\n", v.entry, v.story)
			for i, f := range s.Frequency {
				fmt.Fprintf(&text, "%.3f, %.4f, %.3f\n", f, s.Magnitude[i], 180/math.Pi*s.Phase[i])
			}
			path := "../demo/sweeps/" + v.file
			if *update {
				if err := os.WriteFile(path, text.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			raw, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(raw, text.Bytes()) {
				t.Errorf("%s is not what the generator makes: run with -update", path)
			}

			read, err := sweep.ReadFile(path, sweep.Options{})
			if err != nil {
				t.Fatal(err)
			}
			drawn := demo(t, v.entry)
			res, err := Match(context.Background(), drawn, read, Options{})
			if err != nil {
				t.Fatal(err)
			}
			found := false
			for _, w := range res.Findings {
				t.Logf("%s (%s): %s", w.Kind, w.Part, w.Reading)
				found = found || w.Kind == v.kind && w.Part == v.part
			}
			if !found {
				t.Errorf("no %s at %s was found", v.kind, v.part)
			}
			if len(res.Findings) > 2 {
				t.Errorf("%d findings for one thing wrong", len(res.Findings))
			}
			if res.Residual.Fitted > 0.06 || res.Residual.Drawn < 0.3 {
				t.Errorf("residual from %.3g to %.3g dB", res.Residual.Drawn, res.Residual.Fitted)
			}

			// The corrected design behaves as the sweep does, and keeps its comments.
			if err := res.Correct(drawn); err != nil {
				t.Fatal(err)
			}
			again, diags := design.Parse(drawn.Bytes(), v.entry+".hcl")
			if diags.HasErrors() {
				t.Fatalf("%v\n%s", diags, drawn.Bytes())
			}
			if !strings.Contains(string(drawn.Bytes()), "# An invented entry") {
				t.Error("the corrected design lost its comments")
			}
			if off := apart(t, build(t, again), read, res.From, res.To); off > 1.1*res.Residual.Fitted+0.005 {
				t.Errorf("the corrected design misses the sweep by %.3f dB, the fit by %.3f dB", off, res.Residual.Fitted)
			}
		})
	}
}

// apart is the RMS difference in |Z| of a bench and a sweep, dB.
func apart(t *testing.T, b *response.Bench, s *sweep.Sweep, from, to float64) float64 {
	t.Helper()
	sum, n := 0.0, 0.0
	for i, f := range s.Frequency {
		if f < from || f > to {
			continue
		}
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		e := 20 * math.Log10(cmplx.Abs(b.Impedance(0))/s.Magnitude[i])
		sum += e * e
		n++
	}
	return math.Sqrt(sum / n)
}
