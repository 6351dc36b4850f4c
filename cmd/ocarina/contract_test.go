package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"path/filepath"
	"testing"

	"ocarina/response"
)

// ask runs the command and demands that it is done.
func ask(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(context.Background(), args, &out, &errs); code != done {
		t.Fatalf("ocarina %v: exit %d\n%s", args, code, errs.String())
	}
	return out.Bytes()
}

func entries(t *testing.T) []string {
	files, err := filepath.Glob("../../demo/*.hcl")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d demo designs, %v", len(files), err)
	}
	return files
}

// Every entry answers every command that scripts call, with the keys they rely
// on and every number finite.
func TestDemoAnswers(t *testing.T) {
	for _, f := range entries(t) {
		t.Run(filepath.Base(f), func(t *testing.T) {
			var p map[string]any
			if err := json.Unmarshal(ask(t, "predict", f, "--json"), &p); err != nil {
				t.Fatal(err)
			}
			for _, key := range []string{"frequency_hz", "impedance_ohm", "impedance_phase_deg", "level_db", "level_phase_deg", "group_delay_ms", "mounts", "passives", "ports", "lines", "chambers", "warnings"} {
				if _, ok := p[key]; !ok {
					t.Errorf("predict lacks %s", key)
				}
			}
			if n := len(p["frequency_hz"].([]any)); n != 400 {
				t.Errorf("%d frequencies, want 400", n)
			}
			list := p["frequency_hz"].([]any)
			if list[0] != 10.0 || list[399] != 1008.0 {
				t.Errorf("swept %v to %v, want 10 to four times the highest tone", list[0], list[399])
			}
			var e response.Explanation
			if err := json.Unmarshal(ask(t, "explain", f, "--json"), &e); err != nil {
				t.Fatal(err)
			}
			if len(e.Features) == 0 || len(e.Tones) != 4 {
				t.Fatalf("%d features, %d tones", len(e.Features), len(e.Tones))
			}
			for _, v := range e.Features {
				for group, shares := range map[string]map[string]float64{"kinetic": v.Kinetic, "potential": v.Potential, "loss": v.Loss} {
					sum := 0.0
					for _, s := range shares {
						sum += s
					}
					if math.Abs(sum-1) > 1e-9 {
						t.Errorf("%s shares at %.4g Hz sum to %.12g", group, v.Frequency, sum)
					}
				}
			}
			for _, v := range e.Tones {
				sum := 0.0
				for _, s := range v.Output {
					sum += s
				}
				if math.Abs(sum-1) > 1e-9 {
					t.Errorf("output shares at %.4g Hz sum to %.12g", v.Frequency, sum)
				}
				if v.LimitedBy == "none" || v.MaxVoltage == nil {
					t.Errorf("nothing limits %.4g Hz", v.Frequency)
				}
			}
			ask(t, "check", f, "--json")
		})
	}
}

// At the drive named as the largest, the limit named is reached.
func TestLimitIsReached(t *testing.T) {
	var e response.Explanation
	if err := json.Unmarshal(ask(t, "explain", "../../demo/dunlin.hcl", "--json"), &e); err != nil {
		t.Fatal(err)
	}
	for _, v := range e.Tones {
		times := *v.MaxVoltage / v.Voltage
		got, want := 0.0, 0.0
		switch v.LimitedBy {
		case "excursion:cone":
			got, want = v.Excursion*times, 2.6
		case "port:mouth":
			got, want = v.Speeds["mouth"]*times, 0.05*343.9869
		case "power:cone":
			got, want = v.Current*v.Current*3.3*times*times, 20
		default:
			t.Fatalf("limited by %s", v.LimitedBy)
		}
		if math.Abs(got/want-1) > 1e-6 {
			t.Errorf("%s at %.4g Hz: %.8g, want %.8g", v.LimitedBy, v.Frequency, got, want)
		}
		if math.Abs(*v.MaxLevel-*v.Level-20*math.Log10(times)) > 1e-9 {
			t.Errorf("level at the limit of %.4g Hz", v.Frequency)
		}
	}
}
