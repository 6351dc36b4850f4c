package hearing

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"ocarina/sound"
)

// crest of a sine: its peak is 3.01 dB above its RMS value.
const crest = 3.0103

// Advice says what a level means for the ears.
type Advice struct {
	Level   float64 // as given, dB
	Assumed string  // what was taken for granted, in words
	Peak    float64 // momentary peak compared with the peak limits, dB
	Limits  []Limit // one for each of Rules
	Caution string  // one or two sentences for the point of use
}

// A Limit is what one rule says of a level.
type Limit struct {
	Rule    Rule
	Seconds float64 // allowed a day; 0 above the rule's ceiling or peak
	Peak    bool    // the peak alone is above what the rule allows
}

// Judge says what a level in dB, so weighted, means for unprotected ears.
//
// A weighting other than A is taken as if it were A. For bass that errs far to
// the safe side (the A weighting takes 39 dB off at 31.5 Hz), and it is meant
// to: exposure rules were made from broad noise, harmonics of a bass tone are
// heard without any such discount, and pressure peaks hurt at any frequency.
// The peak is taken as that of a sine, 3 dB above the level. A level that is
// not a number is an error.
func Judge(level float64, w sound.Weighting) (Advice, error) {
	return JudgeWithPeak(level, w, level+crest)
}

// JudgeWithPeak is Judge with a momentary peak in dB that was measured.
func JudgeWithPeak(level float64, w sound.Weighting, peak float64) (Advice, error) {
	if err := finite(level, peak); err != nil {
		return Advice{}, err
	}
	a := Advice{Level: level, Peak: peak, Assumed: assumed(w)}
	if peak == level+crest {
		a.Assumed += "; peak taken as that of a sine, 3 dB above the level"
	}
	for _, r := range Rules() {
		l := Limit{Rule: r, Seconds: r.Allowed(level), Peak: r.Peak > 0 && peak > r.Peak}
		if l.Peak {
			l.Seconds = 0
		}
		a.Limits = append(a.Limits, l)
	}
	a.Caution = caution(level, w, peak)
	return a, nil
}

func finite(values ...float64) error {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return errors.New("sound level: found no finite number, want decibels")
		}
	}
	return nil
}

func assumed(w sound.Weighting) string {
	switch w {
	case sound.A:
		return "A-weighted level"
	default:
		return w.String() + "-weighted level taken as if A-weighted, on the safe side for bass"
	}
}

func caution(level float64, w sound.Weighting, peak float64) string {
	name := fmt.Sprintf("%.0f dB(%v)", level, w)
	if w != sound.A {
		name += ", counted as dB(A)"
	}
	var loudest *Rule
	for _, r := range []Rule{EULower, EUUpper, EULimit} {
		if peak > r.Peak {
			loudest = &r
		}
	}
	switch {
	case loudest != nil:
		return fmt.Sprintf("%s: its peaks, %.0f dB, are above the %s of %.0f dB(C) (%s): nobody without ear protection, not for a moment.",
			name, peak, loudest.Name, loudest.Peak, loudest.Source)
	case level < EULower.Criterion:
		return fmt.Sprintf("%s: below every exposure value for a day's work (%s, %s).", name, EULower.Source, NIOSH.Source)
	case level < NIOSH.Criterion:
		return fmt.Sprintf("%s: reaches the %s after %s (%s): %s.",
			name, EULower.Name, Span(EULower.Allowed(level)), EULower.Source, EULower.Means)
	default:
		return fmt.Sprintf("%s: %s a day without ear protection (%s, %s of %s), %s to the %s: wear it, and warn others.",
			name, Span(NIOSH.Allowed(level)), NIOSH.Source, EUUpper.Name, EUUpper.Source,
			Span(EULower.Allowed(level)), EULower.Name)
	}
}

// A Day is what a series of sounds adds up to.
type Day struct {
	Seconds float64 // of sound
	NIOSH   float64 // dose, 1 is a day's allowance
	EU      float64 // dose of the upper action value
	Filled  float64 // seconds of sound after which NIOSH's allowance is used up; 0 if it never is
	Caution string  // for the point of use
}

// Add sums up parts in the order they are heard, their levels weighted by w
// and, unless that is A, taken as if they were A-weighted. A level or time that
// is not a number, or a negative time, is an error.
func Add(w sound.Weighting, parts ...Part) (Day, error) {
	var d Day
	loudest := sound.Silent
	for i, p := range parts {
		if err := finite(p.Level, p.Seconds); err != nil {
			return Day{}, fmt.Errorf("part %d: %w", i+1, err)
		}
		if p.Seconds < 0 {
			return Day{}, fmt.Errorf("part %d: found %g s, want a time of zero or more", i+1, p.Seconds)
		}
		dose := NIOSH.Dose(p)
		if d.Filled == 0 && dose > 0 && d.NIOSH+dose >= 1 {
			d.Filled = d.Seconds + p.Seconds*(1-d.NIOSH)/dose
		}
		d.Seconds += p.Seconds
		d.NIOSH += dose
		d.EU += EUUpper.Dose(p)
		loudest = max(loudest, p.Level)
	}
	if len(parts) > 0 {
		d.Caution = d.words(w, loudest)
	}
	return d, nil
}

func (d Day) words(w sound.Weighting, loudest float64) string {
	var b strings.Builder
	digits := 0
	if d.NIOSH < 0.1 {
		digits = 1
	}
	fmt.Fprintf(&b, "All of it, once: %.*f %% of a day's allowance (%s) without ear protection", digits, 100*d.NIOSH, NIOSH.Source)
	if d.Filled > 0 {
		fmt.Fprintf(&b, ", used up after %s", Span(d.Filled))
	}
	b.WriteString(". Loudest: ")
	b.WriteString(caution(loudest, w, loudest+crest))
	return b.String()
}

// Span writes a time in seconds as people say it: "56 s", "7 min 30 s", "2 h".
func Span(seconds float64) string {
	switch {
	case seconds <= 0:
		return "no time at all"
	case seconds < 0.01:
		return "under 0.01 s"
	case seconds < 9.95:
		return fmt.Sprintf("%.2g s", seconds)
	case seconds < 99.5:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 3570:
		s := int(math.Round(seconds))
		if s%60 == 0 || s > 1200 {
			return fmt.Sprintf("%d min", s/60)
		}
		return fmt.Sprintf("%d min %d s", s/60, s%60)
	case seconds < 24*3600:
		m := int(math.Round(seconds / 60))
		if m%60 == 0 {
			return fmt.Sprintf("%d h", m/60)
		}
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	return "over a day"
}
