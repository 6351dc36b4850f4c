package recording

import (
	"math"
	"slices"

	"ocarina/sound"
)

// pause is what the recording holds between the tones.
type pause struct {
	spans  [][2]int // recorded samples
	traces []trace
}

const (
	shortestPause = 0.4 // s
	mostPauses    = 8
)

// findRest takes for a pause what is outside all steps and as quiet as the
// quietest frames of the recording.
func (r *reader) findRest(tones []*tone) {
	r.rest = nil
	fs := r.frames
	sounding := make([]bool, len(fs.at))
	margin := int(0.3 * r.rate)
	for _, t := range tones {
		for _, p := range t.parts {
			for i := max(0, (p.from-margin-fs.size)/fs.hop); i < len(fs.at) && i*fs.hop < p.to+margin; i++ {
				sounding[i] = true
			}
		}
	}
	var quiet []float64
	for i, f := range fs.at {
		if !sounding[i] {
			quiet = append(quiet, f.power)
		}
	}
	if len(quiet) == 0 {
		return
	}
	slices.Sort(quiet)
	limit := 3 * quiet[len(quiet)/10]
	var rest pause
	for i := 0; i < len(fs.at); i++ {
		j := i
		for j < len(fs.at) && !sounding[j] && fs.at[j].power <= limit {
			j++
		}
		if j > i {
			span := [2]int{i * fs.hop, (j-1)*fs.hop + fs.size}
			if float64(span[1]-span[0]) >= shortestPause*r.rate {
				rest.spans = append(rest.spans, span)
			}
			i = j
		}
	}
	if len(rest.spans) == 0 {
		return
	}
	slices.SortStableFunc(rest.spans, func(a, b [2]int) int { return (b[1] - b[0]) - (a[1] - a[0]) })
	rest.spans = rest.spans[:min(mostPauses, len(rest.spans))]
	for _, s := range rest.spans {
		rest.traces = append(rest.traces, restTrace(fs.level, s[0], s[1]))
	}
	r.rest = &rest
}

// between is the mean square of the pauses from lo to hi hertz outside the
// notches; ok is false beyond what the traces hold.
func (p *pause) between(lo, hi float64, notches []notch) (power float64, ok bool) {
	if p == nil {
		return 0, false
	}
	var seconds float64
	for _, t := range p.traces {
		if hi > t.pass {
			return 0, false
		}
		s := float64(len(t.x)) / t.rate
		power += s * t.noise.without(notches).power(lo, hi)
		seconds += s
	}
	return power / seconds, true
}

// quiet reads the pauses over the whole band: mean, mean square about it, and
// mean square A-weighted.
func (r *reader) quiet() (offset, noise, weighted float64) {
	var n float64
	for _, s := range r.rest.spans {
		x := slices.Clone(r.x[s[0]:min(s[1], len(r.x))])
		var mean float64
		for _, v := range x {
			mean += v / float64(len(x))
		}
		for i := range x {
			x[i] -= mean
		}
		n += float64(len(x))
		offset += mean * float64(len(x))
		noise += meanSquare(x) * float64(len(x))
		if f, err := sound.NewFilter(sound.A, int(r.rate)); err == nil {
			f.Process(x, x)
			weighted += meanSquare(x) * float64(len(x))
		}
	}
	return offset / n, noise / n, weighted / n
}

// restReport turns the pauses into what is reported.
func (r *reader) restReport(u unit) *Rest {
	if r.rest == nil {
		return nil
	}
	offset, noise, weighted := r.quiet()
	rest := &Rest{Offset: u.value(offset), Noise: u.value(math.Sqrt(noise)), Level: u.level(math.Sqrt(noise)), LevelA: u.level(math.Sqrt(weighted))}
	for _, s := range r.rest.spans {
		rest.Seconds += float64(s[1]-s[0]) / r.rate
	}
	return rest
}
