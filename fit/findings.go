package fit

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// Kinds of findings.
const (
	Leak        = "leak"
	PortLong    = "port-long"
	PortShort   = "port-short"
	PortBlocked = "port-blocked"
	Volume      = "volume"
	Line        = "line" // a chamber behaves as a line, or a line is of another length
	DriverOff   = "driver"
	BreakIn     = "break-in"
	Temperature = "temperature"
	Polarity    = "polarity"
	Wiring      = "wiring"
	Open        = "open" // measured with the box open
)

// What makes a difference a finding: so many standard errors, and so much that a
// builder would care.
const (
	sure        = 3.0
	shareBuilt  = 0.03 // of a volume or an effective length
	shareDriver = 0.04 // of a driver's data
	leakTold    = 60.0 // Q at the driver's resonance: a leak weaker than that is none
	lossTold    = 0.5  // of a port's usual extra loss
)

// findings puts the differences into words.
func (f *fitting) findings(r *Result) {
	r.Findings = append(r.Findings, f.told...)
	if f.solved == nil {
		return
	}
	for j := range f.free {
		p := &f.free[j]
		switch {
		case p.key == "leak":
			f.leak(r, j)
		case p.key == "leak_q" || p.key == "resistance" && f.isLeak(p.part):
			f.drawnLeak(r, j)
		case p.key == "length" && f.isPort(p.part):
			f.port(r, j)
		case p.key == "length":
			if f.certain(j, shareBuilt) {
				r.find(Line, p.part, "%s%s behaves %s (%s).", f.evidence(r, p.part, false), p.part, longer(p.at(f.x[j])-p.drawn), f.was(j))
			}
		case p.key == "volume":
			if f.certain(j, shareBuilt) {
				r.find(Volume, p.part, "%s%s holds %s than drawn (%s).", f.evidence(r, p.part, true), p.part, percent(f.x[j], "more", "less"), f.was(j))
			}
		}
	}
	for _, d := range f.design.Drivers {
		f.driver(r, d.Name)
	}
	f.lines(r)
}

func (r *Result) find(kind, part, format string, args ...any) {
	r.Findings = append(r.Findings, Finding{kind, part, capital(fmt.Sprintf(format, args...))})
}

// capital begins a sentence with a capital, unless it begins with a part's name.
func capital(s string) string {
	for _, word := range []string{"the ", "with ", "above "} {
		if strings.HasPrefix(s, word) {
			return strings.ToUpper(s[:1]) + s[1:]
		}
	}
	return s
}

// certain reports whether a parameter is off by so many standard errors and so
// much.
func (f *fitting) certain(j int, share float64) bool {
	return math.Abs(f.x[j]) > sure*f.solved.StandardError[j] && math.Abs(f.x[j]) > share && f.solved.Learned[j] > 0.5
}

func (f *fitting) isPort(name string) bool {
	for _, p := range f.model.Ports {
		if p.Name == name {
			return true
		}
	}
	return false
}

func (f *fitting) isLeak(name string) bool {
	for _, l := range f.model.Leaks {
		if l.Name == name {
			return true
		}
	}
	return false
}

// find returns the index of a free parameter, or −1.
func (f *fitting) find(part, key string) int {
	for j := range f.free {
		if f.free[j].part == part && f.free[j].key == key {
			return j
		}
	}
	return -1
}

// was tells fitted and drawn value: "39.2 mm ± 0.4 mm, drawn 30 mm".
func (f *fitting) was(j int) string {
	p := &f.free[j]
	unit := ""
	if p.unit != "" {
		unit = " " + p.unit
	}
	k := 1 / p.unitSI
	return fmt.Sprintf("%s ± %s%s, drawn %s%s", digits(k*p.at(f.x[j]), 3), digits(k*math.Abs(p.scale)*f.solved.StandardError[j], 2), unit, digits(k*p.drawn, 4), unit)
}

// digits writes a number with so many significant digits and no exponent that
// people would not write.
func digits(v float64, n int) string {
	if v == 0 {
		return "0"
	}
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if a := math.Abs(r); a >= 1e6 || a < 1e-4 {
		return strconv.FormatFloat(r, 'g', n, 64)
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

func percent(x float64, more, less string) string {
	if x < 0 {
		more = less
	}
	return digits(100*math.Abs(x), 2) + " % " + more
}

func longer(metres float64) string {
	word := "longer"
	if metres < 0 {
		word = "shorter"
	}
	return fmt.Sprintf("%s mm %s than drawn", digits(1000*math.Abs(metres), 2), word)
}

// evidence says how far the feature has moved that a part has most to do with, as
// the beginning of a sentence: "The upper dip sits 6 % low: ".
func (f *fitting) evidence(r *Result, part string, spring bool) string {
	var best *Feature
	most := 0.0
	for i := range r.Features {
		v := &r.Features[i]
		if v.Measured == nil || v.Drawn == nil {
			continue
		}
		share := v.kinetic[part]
		if spring {
			share = v.potential[part]
		}
		if w := share * math.Abs(math.Log(*v.Measured / *v.Drawn)); w > most {
			best, most = v, w
		}
	}
	if best == nil || most < 0.0005 {
		return ""
	}
	return fmt.Sprintf("the %s sits %s: ", best.rank, percent(*best.Measured / *best.Drawn - 1, "high", "low"))
}

// port tells a port that is too long or too short, or has become narrower.
func (f *fitting) port(r *Result, j int) {
	p := &f.free[j]
	loss := f.find(p.part, "resistance")
	lossy := loss >= 0 && f.certain(loss, lossTold)
	if !f.certain(j, shareBuilt) {
		if lossy {
			r.find(PortBlocked, p.part, "%s loses more than air on smooth walls does (%s), and its length is as drawn: cloth, a rough inside or something loose in it.", p.part, f.was(loss))
		}
		return
	}
	area := 1/(1+f.x[j]) - 1 // what would do the same
	head := f.evidence(r, p.part, false)
	switch {
	case f.x[j] > 0 && lossy:
		r.find(PortBlocked, p.part, "%s%s behaves %s (%s) and loses more than smooth walls do (%s): partly blocked, as if %s of its area were closed.", head, p.part, longer(p.scale*f.x[j]), f.was(j), f.was(loss), digits(-100*area, 2)+" %")
	case f.x[j] > 0:
		r.find(PortLong, p.part, "%s%s behaves %s (%s). An opening %s smaller would do the same.", head, p.part, longer(p.scale*f.x[j]), f.was(j), digits(-100*area, 2)+" %")
	default:
		r.find(PortShort, p.part, "%s%s behaves %s (%s). An opening %s larger would do the same.", head, p.part, longer(p.scale*f.x[j]), f.was(j), digits(100*area, 2)+" %")
	}
}

// leak tells a leak that the drawing does not have.
func (f *fitting) leak(r *Result, j int) {
	p := &f.free[j]
	quality := leakQuality / math.Max(f.x[j], 1e-9)
	if f.x[j] < sure*f.solved.StandardError[j] || quality > leakTold || f.solved.Learned[j] < 0.5 {
		return
	}
	omega := (&collector{m: f.model, values: f.drawnValues}).reference()
	r.find(Leak, p.part, "%s%s leaks: its Q at %s Hz is %s by the leak alone (acoustic resistance %s Pa s/m³ to the outside, ± %s %%). Look at joints, the driver's rim and cable holes.",
		f.lower(r), p.part, digits(omega/(2*math.Pi), 3), digits(quality, 2), digits(1/(p.scale*f.x[j]), 2), digits(100*f.solved.StandardError[j]/f.x[j], 2))
}

// lower says which peak is lower than drawn, the most visible sign of a leak.
func (f *fitting) lower(r *Result) string {
	var best *Feature
	most := 0.3 // dB
	for i := range r.Features {
		v := &r.Features[i]
		if v.Measured == nil || v.Drawn == nil || v.Kind != "peak" {
			continue
		}
		if d := decibels * math.Log(v.drawnOhm/v.measuredOhm); d > most {
			best, most = v, d
		}
	}
	if best == nil {
		return ""
	}
	return fmt.Sprintf("the %s is %s dB lower than drawn: ", best.rank, digits(most, 2))
}

func (f *fitting) drawnLeak(r *Result, j int) {
	p := &f.free[j]
	if !f.certain(j, 0.3) {
		return
	}
	word := "less"
	if f.x[j] < 0 { // less resistance
		word = "more"
	}
	r.find(Leak, p.part, "%s leaks %s than drawn (%s).", p.part, word, f.was(j))
}

// driver compares a driver with its sheet and says what would explain it.
func (f *fitting) driver(r *Result, name string) {
	x := map[string]float64{}
	var off []string
	strange := 0
	for j := range f.free {
		p := &f.free[j]
		if p.part != name {
			continue
		}
		x[p.key] = f.x[j]
		if p.key == "creep" || strings.HasPrefix(p.key, "coil.") || p.key == "le" {
			continue
		}
		share := shareDriver
		if p.key == "qms" || p.key == "rms" || p.key == "vas" || p.key == "cms" {
			share = 0.1
		}
		if !f.certain(j, share) {
			continue
		}
		off = append(off, p.key)
		if math.Abs(f.x[j]) > 2.5*p.sigma {
			strange++
		}
	}
	if len(off) == 0 {
		return
	}
	gone := func(keys ...string) (rest []string) {
		for _, k := range off {
			if !contains(keys, k) {
				rest = append(rest, k)
			}
		}
		return rest
	}
	if re := x["re"]; re > shareDriver && re < 0.8 && contains(off, "re") && math.Abs(x["qes"]-re) < 0.06 && strange < 3 {
		j := f.find(name, "re")
		r.find(Temperature, name, "%s: the coil's resistance is %s above its sheet (%s) and qes goes with it: the coil was at about %.0f °C, or the leads add their own.",
			name, digits(100*re, 2)+" %", f.was(j), 20+re/0.00393)
		off = gone("re", "qes")
	}
	fs, vas := x["fs"], x["vas"]
	mass := -2*math.Log1p(fs) - math.Log1p(vas) // of the moving mass, logarithm
	if strange < 2 && contains(off, "fs") && math.Abs(mass) < 0.15 {
		if j := f.find(name, "fs"); fs < 0 {
			r.find(BreakIn, name, "%s: the suspension is softer than its sheet says, with the moving mass as it was (fs %s): it has been broken in, or is warm.", name, f.was(j))
		} else {
			r.find(BreakIn, name, "%s: the suspension is stiffer than its sheet says, with the moving mass as it was (fs %s): it is new and wants breaking in, or is cold.", name, f.was(j))
		}
		off = gone("fs", "vas", "cms", "qes", "qms")
	}
	if len(off) == 0 {
		return
	}
	var list []string
	for _, k := range off {
		list = append(list, k+" "+f.was(f.find(name, k)))
	}
	sort.Strings(list)
	tail := "its data sheet is of another sample or state."
	if strange >= 2 || math.Abs(mass) > 0.3 {
		tail = "this looks like another driver."
	}
	r.find(DriverOff, name, "%s is not as its data sheet says: %s: %s", name, strings.Join(list, "; "), tail)
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

// lines tells a chamber that is too long for the frequencies it was measured at:
// a feature near its own standing wave that the model does not have, or a residual
// that grows where it becomes long.
func (f *fitting) lines(r *Result) {
	o := f.fine
	for _, c := range f.model.Chambers {
		if c.Longest <= 0 {
			continue
		}
		speed := f.model.Air.Speed
		wave := speed / (2 * c.Longest) // its first standing wave
		for _, v := range r.Features {
			if v.Fitted == nil && v.Drawn == nil && v.Measured != nil && math.Abs(math.Log(*v.Measured/wave)) < 0.25 {
				r.find(Line, c.Name, "the sweep has a %s at %s Hz that no part owns: %s is %.0f mm long and behaves as a line there (half a wavelength at %.0f Hz). Draw it as a line with its driver and ports at their places.",
					v.Kind, digits(*v.Measured, 4), c.Name, 1000*c.Longest, wave)
				return
			}
		}
		edge := speed / (6 * c.Longest)
		var low, high float64
		var n, m float64
		for i, d := range o.readings {
			e := decibels * (math.Log(r.Fitted[i]) - d.size)
			if d.frequency < edge {
				low += e * e
				n++
			} else {
				high += e * e
				m++
			}
		}
		if n < 10 || m < 10 {
			continue
		}
		low, high = math.Sqrt(low/n), math.Sqrt(high/m)
		if high > 0.3 && high > 2.5*low {
			r.find(Line, c.Name, "above %.0f Hz, where %s is longer than a sixth of a wavelength, the model misses by %s dB and below by %s dB: it behaves as a line there. Draw it as one.", edge, c.Name, digits(high, 2), digits(low, 2))
			return
		}
	}
}
