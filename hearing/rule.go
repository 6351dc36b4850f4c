// Package hearing says how long a sound level may be borne without protection
// and which rule says so.
//
// It knows the recommended exposure limit of NIOSH (Publication 98-126, 1998),
// the exposure values of Directive 2003/10/EC and, for comparison, the
// permissible exposures of OSHA (29 CFR 1910.95). These are rules for work,
// eight hours a day over a working life; they promise no safety for one loud
// day, and local rules go before them.
package hearing

import "math"

// A Rule allows a level for a day's work and less time for more of it.
type Rule struct {
	Name      string
	Source    string
	Means     string  // what follows once it is reached
	Criterion float64 // level that fills the day in eight hours, dB(A)
	Exchange  float64 // what halves the time, dB
	Ceiling   float64 // level never to be borne unprotected, dB(A); 0 for none
	Peak      float64 // highest momentary pressure, dB(C) peak; 0 for none
}

const day = 8 * 3600.0 // s

// The rules. Where a rule says nothing of a quantity the field is zero.
var (
	// NIOSH: 85 dB(A) for 8 h, 3 dB exchange (section 1.1 and Table 1-1). The
	// ceiling of 140 dB(A) is section 1.2, from memory; the criteria of 1972
	// had 115 dB(A).
	NIOSH = Rule{
		Name: "NIOSH limit", Source: "NIOSH 98-126", Means: "wear protection",
		Criterion: 85, Exchange: 3, Ceiling: 140, Peak: 140,
	}

	// EULower, EUUpper and EULimit are article 3 of Directive 2003/10/EC:
	// 80, 85 and 87 dB(A) over an 8 h day; 112, 140 and 200 Pa peak (C). The
	// limit is meant at the ear, behind whatever protection is worn.
	EULower = Rule{
		Name: "EU lower action value", Source: "2003/10/EC art. 3", Means: "have protection at hand",
		Criterion: 80, Exchange: 3, Peak: 135,
	}
	EUUpper = Rule{
		Name: "EU upper action value", Source: "2003/10/EC art. 3", Means: "wear protection",
		Criterion: 85, Exchange: 3, Peak: 137,
	}
	EULimit = Rule{
		Name: "EU limit", Source: "2003/10/EC art. 3", Means: "stop",
		Criterion: 87, Exchange: 3, Peak: 140,
	}

	// OSHA: 90 dB(A) for 8 h, 5 dB exchange, 115 dB(A) at most, 140 dB peak for
	// impulses (Table G-16). It allows more than the others and is shown for
	// comparison only.
	OSHA = Rule{
		Name: "OSHA permissible exposure", Source: "29 CFR 1910.95", Means: "reduce the exposure",
		Criterion: 90, Exchange: 5, Ceiling: 115, Peak: 140,
	}
)

// Rules are all rules, the strictest first.
func Rules() []Rule { return []Rule{EULower, NIOSH, EUUpper, EULimit, OSHA} }

// Allowed is the time in seconds that a level in dB(A) may last in a day:
// 8 h / 2^((L − Criterion)/Exchange), and nothing above the ceiling.
// (NIOSH 98-126, section 1.1; 29 CFR 1910.95 App. A, eq. 2.) Times beyond a day
// are what the formula gives: they serve to add exposures up.
func (r Rule) Allowed(level float64) float64 {
	if r.Ceiling > 0 && level > r.Ceiling {
		return 0
	}
	return day / math.Exp2((level-r.Criterion)/r.Exchange)
}

// A Part of a day is one level, dB(A), for some seconds.
type Part struct {
	Level   float64
	Seconds float64
}

// Dose is the share of a day's allowance that parts use, Σ C/T; 1 is all of it.
// A part above the ceiling is counted by the formula, as if there were none.
func (r Rule) Dose(parts ...Part) float64 {
	var d float64
	for _, p := range parts {
		d += p.Seconds / day * math.Exp2((p.Level-r.Criterion)/r.Exchange)
	}
	return d
}

// DayLevel is the level in dB(A) that gives the dose in eight hours: the
// eight-hour TWA of OSHA (16.61·log10 D + 90) and, with an exchange of 3 dB,
// very nearly the LEX,8h of ISO 1999. The dose must be above zero.
func (r Rule) DayLevel(dose float64) float64 {
	return r.Criterion + r.Exchange*math.Log2(dose)
}
