package hearing

import (
	"math"
	"strings"
	"testing"

	"ocarina/sound"
)

func TestAllowedAgainstTables(t *testing.T) {
	for _, c := range []struct {
		table    string
		rule     Rule
		levels   []float64
		minutes  []float64
		rel, abs float64
	}{
		{"NIOSH Publication 98-126 (1998), REL", NIOSH,
			[]float64{85, 88, 91, 94, 97, 100}, []float64{480, 240, 120, 60, 30, 15}, 1e-9, 0},
		// From memory; the table prints minutes and seconds.
		{"NIOSH 98-126 Table 1-1", NIOSH,
			[]float64{95, 103, 106, 112, 115}, []float64{47.62, 7.5, 3.75, 0.94, 0.469}, 0.004, 0},
		// The table prints hours to 0.1 h: half of that is 3 min.
		{"29 CFR 1910.95 App. A Table G-16A", OSHA,
			[]float64{80, 81, 82, 83, 84, 85, 86, 92}, []float64{32 * 60, 27.9 * 60, 24.3 * 60, 21.1 * 60, 18.4 * 60, 16 * 60, 13.9 * 60, 6.1 * 60}, 0, 3.1},
		// From memory; the table rounds to convenient hours.
		{"29 CFR 1910.95 Table G-16", OSHA,
			[]float64{90, 92, 95, 97, 100, 102, 105, 110, 115}, []float64{480, 360, 240, 180, 120, 90, 60, 30, 15}, 0.02, 0},
		// SCENIHR 2008 Table 3; it rounds 7.5 min to 8.
		{"EU equivalents of 80 dB(A), 8 h", EULower,
			[]float64{83, 86, 89, 92, 95, 98, 101, 104, 107}, []float64{240, 120, 60, 30, 15, 8, 4, 2, 1}, 0.07, 0},
	} {
		for i, l := range c.levels {
			got, want := c.rule.Allowed(l)/60, c.minutes[i]
			if math.Abs(got-want) > c.rel*want+c.abs {
				t.Errorf("%s: %g dB(A) for %.3f min, want %g", c.table, l, got, want)
			}
		}
	}
}

func TestDayLevelAgainstOSHA(t *testing.T) {
	// 29 CFR 1910.95 App. A: TWA = 16.61·log10(D/100) + 90; 8 h at 92 dB is 131 %.
	for _, c := range []struct{ dose, want float64 }{{0.5, 85}, {1, 90}, {2, 95}} {
		if got := OSHA.DayLevel(c.dose); math.Abs(got-c.want) > 0.005 {
			t.Errorf("dose %g: %.3f dB(A), want %g", c.dose, got, c.want)
		}
	}
	if got := 100 * OSHA.Dose(Part{92, 8 * 3600}); math.Abs(got-131) > 1 {
		t.Errorf("8 h at 92 dB: %.1f %%, want 131", got)
	}
}

func TestPeaksAndCeilings(t *testing.T) {
	// Directive 2003/10/EC article 3 gives the peaks in pascals.
	for _, c := range []struct {
		rule Rule
		pa   float64
	}{{EULimit, 200}, {EUUpper, 140}, {EULower, 112}} {
		if want := sound.Level(c.pa); math.Abs(c.rule.Peak-want) > 0.11 {
			t.Errorf("%s: peak %g dB(C), %g Pa is %.2f", c.rule.Name, c.rule.Peak, c.pa, want)
		}
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"OSHA impulsive peak (29 CFR 1910.95(b))", OSHA.Peak, 140},
		{"OSHA table end (Table G-16)", OSHA.Ceiling, 115},
		{"NIOSH ceiling (98-126 section 1.2, from memory)", NIOSH.Ceiling, 140},
		{"OSHA above its table", OSHA.Allowed(115.1), 0},
		{"NIOSH above its ceiling", NIOSH.Allowed(140.1), 0},
	} {
		if c.got != c.want {
			t.Errorf("%s: %g, want %g", c.what, c.got, c.want)
		}
	}
	if OSHA.Allowed(115) == 0 || NIOSH.Allowed(140) == 0 {
		t.Error("the ceiling itself is allowed")
	}
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		level float64
		w     sound.Weighting
		want  []string
	}{
		{70, sound.A, []string{"70 dB(A): below every exposure value"}},
		{82, sound.Z, []string{"82 dB(Z), counted as dB(A)", "EU lower action value after 5 h 2 min", "2003/10/EC"}},
		{100, sound.A, []string{"100 dB(A): 15 min a day", "NIOSH 98-126", "2003/10/EC", "4 min 43 s to the EU lower action value"}},
		{112, sound.Z, []string{"counted as dB(A)", "56 s a day"}},
		{130, sound.C, []string{"0.88 s a day"}},
		{133, sound.Z, []string{"peaks, 136 dB", "EU lower action value of 135 dB(C)", "not for a moment"}},
		{138, sound.Z, []string{"peaks, 141 dB", "EU limit of 140 dB(C)"}},
	} {
		a, err := Judge(c.level, c.w)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range c.want {
			if !strings.Contains(a.Caution, w) {
				t.Errorf("%g dB(%v): %q lacks %q", c.level, c.w, a.Caution, w)
			}
		}
		if len(a.Caution) > 220 {
			t.Errorf("%g dB: caution of %d letters is not short", c.level, len(a.Caution))
		}
		if (c.w == sound.A) == strings.Contains(a.Assumed, "as if") {
			t.Errorf("%g dB(%v): assumed %q", c.level, c.w, a.Assumed)
		}
		for _, l := range a.Limits {
			if l.Peak && l.Seconds != 0 {
				t.Errorf("%s allows %g s above its peak", l.Rule.Name, l.Seconds)
			}
		}
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := Judge(bad, sound.A); err == nil {
			t.Errorf("Judge(%g) gave no error", bad)
		}
	}
}

// TestJudgeIsNeverLax: a weighting other than A must never be allowed longer
// than the same number in dB(A), and a louder sound never longer.
func TestJudgeIsNeverLax(t *testing.T) {
	last := map[string]float64{}
	for level := 60.0; level < 160; level += 0.25 {
		a, err := Judge(level, sound.A)
		if err != nil {
			t.Fatal(err)
		}
		z, err := Judge(level, sound.Z)
		if err != nil {
			t.Fatal(err)
		}
		for i := range a.Limits {
			name := a.Limits[i].Rule.Name
			if z.Limits[i].Seconds > a.Limits[i].Seconds {
				t.Errorf("%g dB: %s allows dB(Z) longer than dB(A)", level, name)
			}
			if was, ok := last[name]; ok && a.Limits[i].Seconds > was {
				t.Errorf("%g dB: %s allows longer than for a softer sound", level, name)
			}
			last[name] = a.Limits[i].Seconds
		}
	}
}

func TestAdd(t *testing.T) {
	// 15 min at 100 dB(A) is all of NIOSH's day: a quarter of it, half of it at
	// 97 dB, and the last quarter after 225 s of the third part.
	d, err := Add(sound.A, Part{100, 225}, Part{97, 900}, Part{100, 900})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(d.NIOSH-1.75) > 1e-12 || math.Abs(d.Filled-1350) > 1e-6 || d.Seconds != 2025 {
		t.Errorf("%+v", d)
	}
	if !strings.Contains(d.Caution, " 175 % of a day's allowance") || !strings.Contains(d.Caution, "used up after 22 min") {
		t.Errorf("caution %q", d.Caution)
	}
	quiet, err := Add(sound.Z, Part{60, 10})
	if err != nil || quiet.Filled != 0 {
		t.Errorf("%+v, %v", quiet, err)
	}
	if _, err := Add(sound.A, Part{60, -1}); err == nil || !strings.Contains(err.Error(), "part 1") {
		t.Errorf("negative time: %v", err)
	}
	if _, err := Add(sound.A, Part{60, 1}, Part{math.NaN(), 1}); err == nil || !strings.Contains(err.Error(), "part 2") {
		t.Errorf("no number: %v", err)
	}
	if none, err := Add(sound.A); err != nil || none.Caution != "" {
		t.Errorf("nothing at all: %+v, %v", none, err)
	}
}

func TestSpan(t *testing.T) {
	for _, c := range []struct {
		s    float64
		want string
	}{
		{0, "no time at all"}, {0.001, "under 0.01 s"}, {0.88, "0.88 s"}, {56.25, "56 s"},
		{450, "7 min 30 s"}, {900, "15 min"}, {2857, "47 min"}, {7200, "2 h"}, {18144, "5 h 2 min"}, {1e6, "over a day"},
		{3599, "1 h"},
	} {
		if got := Span(c.s); got != c.want {
			t.Errorf("Span(%g) = %q, want %q", c.s, got, c.want)
		}
	}
}
