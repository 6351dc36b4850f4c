package response

import (
	"fmt"
	"math"
	"math/cmplx"

	"ocarina/network"
)

// Relative is a phasor against the largest of its kind.
type Relative struct {
	Ratio float64 `json:"ratio"`
	Phase float64 `json:"phase_deg"`
}

// Feature is a peak or dip of the impedance and the state of the whole box at
// it. Shares of each group sum to one; keys are part names.
type Feature struct {
	Kind      string              `json:"kind"` // "peak" or "dip"
	Frequency float64             `json:"frequency_hz"`
	Impedance float64             `json:"impedance_ohm"`
	Q         float64             `json:"q"`
	Whole     bool                `json:"q_of_whole_load"` // Q is of Z itself, not of what moves
	Coil      bool                `json:"coil"`            // where the coil's inductance meets the moving mass
	Kinetic   map[string]float64  `json:"kinetic_share"`
	Potential map[string]float64  `json:"potential_share"`
	Loss      map[string]float64  `json:"loss_share"`
	Pressures map[string]Relative `json:"pressures"`
	Flows     map[string]Relative `json:"flows"`
	Owner     string              `json:"owner"` // a few words for a curve
	Reading   string              `json:"reading"`
}

// The band explain looks at unless told otherwise, Hz.
const (
	DefaultFrom = 5
	DefaultTo   = 2000
)

const (
	standing  = 0.01 // dB a feature must stand from its neighbour
	turning   = 5.0  // degrees arg Z may turn between scanned points
	perOctave = 128  // points of the first scan
	sharpest  = 1e-7 // of the frequency: the finest the scan goes
	finest    = 1e-4 // of the frequency: as close as a peak and a dip are sought
)

// scanned is one point of the scan: arg Z in degrees and d ln|Z|/d ln f.
type scanned struct {
	f, phase, tilt, size float64
}

func (b *Bench) scanAt(f float64) (scanned, error) {
	if err := b.Solve(f); err != nil {
		return scanned{}, err
	}
	z := b.Impedance(0)
	slope := b.ImpedanceSlope(0) / z
	s := scanned{f, Degrees(z), real(slope) * b.omega, cmplx.Abs(z)}
	if math.IsNaN(s.tilt+s.phase) || math.IsInf(s.tilt, 0) {
		return s, fmt.Errorf("the impedance at %.6g Hz is out of the range of numbers", f)
	}
	return s, nil
}

// scan walks the band until arg Z turns less than five degrees from point to
// point.
func (b *Bench) scan(from, to float64) ([]scanned, error) {
	n := 2 + int(perOctave*math.Log2(to/from))
	var list []scanned
	var last scanned
	for i, f := range LogSpaced(from, to, n) {
		s, err := b.scanAt(f)
		if err != nil {
			return nil, err
		}
		if i > 0 {
			if list, err = b.between(list, last, s, 40); err != nil {
				return nil, err
			}
		}
		list = append(list, s)
		last = s
	}
	return list, nil
}

func (b *Bench) between(list []scanned, p, q scanned, depth int) ([]scanned, error) {
	turn := math.Abs(q.phase - p.phase)
	turn = math.Min(turn, 360-turn)
	if turn < turning && !hides(p, q) || depth == 0 || q.f-p.f < sharpest*p.f {
		return list, nil
	}
	mid, err := b.scanAt(math.Sqrt(p.f * q.f))
	if err != nil {
		return nil, err
	}
	if list, err = b.between(list, p, mid, depth-1); err != nil {
		return nil, err
	}
	return b.between(append(list, mid), mid, q, depth-1)
}

// hides tells whether a peak and a dip may lie between two points that both rise
// or both fall: where the cubic through both sizes and tilts turns back, or nearly
// does.
func hides(p, q scanned) bool {
	if (p.tilt > 0) != (q.tilt > 0) || q.f-p.f < finest*p.f {
		return false
	}
	a, b := math.Abs(p.tilt), math.Abs(q.tilt)
	mean := math.Abs(math.Log(q.size/p.size)) / math.Log(q.f/p.f)
	if (q.size > p.size) != (p.tilt > 0) {
		return true
	}
	// The slope along the way, u from 0 to 1, is a + line·u + bend·u².
	line, bend := 6*mean-4*a-2*b, 3*a+3*b-6*mean
	at := -line / (2 * bend)
	if !(at > 0 && at < 1) {
		return false
	}
	return a+at*(line+at*bend) < math.Min(a, b)/4
}

// located is how closely a peak or dip is found, far below the 1e-4 of its
// frequency that is asked for.
const located = 1e-10

// locate finds where the tilt of |Z| changes sign between two points: by the
// parabola through three points, taken the other way round, where it can be
// trusted and by halving where not (Chandrupatla, Adv. Eng. Software 28, 1997).
func (b *Bench) locate(p, q scanned) (scanned, error) {
	last, other := q, p // the newest point and the nearest beyond the turn
	part := 0.5
	for range 100 {
		s, err := b.scanAt(last.f + part*(other.f-last.f))
		if err != nil {
			return s, err
		}
		before := last
		if (s.tilt > 0) != (last.tilt > 0) {
			before, other = other, last
		}
		last = s
		best := last
		if math.Abs(other.tilt) < math.Abs(last.tilt) {
			best = other
		}
		step := located * best.f / math.Abs(other.f-last.f)
		if step > 0.5 || best.tilt == 0 {
			return best, nil
		}
		xi, phi := (last.f-other.f)/(before.f-other.f), (last.tilt-other.tilt)/(before.tilt-other.tilt)
		part = 0.5
		if phi*phi < xi && (1-phi)*(1-phi) < 1-xi {
			part = last.tilt/(other.tilt-last.tilt)*before.tilt/(other.tilt-before.tilt) +
				(before.f-last.f)/(other.f-last.f)*last.tilt/(before.tilt-last.tilt)*other.tilt/(before.tilt-other.tilt)
		}
		part = math.Min(math.Max(part, step), 1-step)
	}
	return last, nil
}

// Features finds the local peaks and dips of |Z| of the first drive's load in a
// band [Hz], in order of frequency, each with the state of the box at it.
func (b *Bench) Features(from, to float64) ([]Feature, error) {
	list, err := b.scan(from, to)
	if err != nil {
		return nil, err
	}
	var found []scanned
	var peak []bool
	for i := 1; i < len(list); i++ {
		p, q := list[i-1], list[i]
		if (p.tilt > 0) == (q.tilt > 0) {
			continue
		}
		s, err := b.locate(p, q)
		if err != nil {
			return nil, err
		}
		found, peak = append(found, s), append(peak, p.tilt > 0)
	}
	found, peak = prominent(found, peak)
	features := make([]Feature, len(found))
	coil := -1
	for i, s := range found {
		var falling bool
		if features[i], falling, err = b.feature(s.f, peak[i]); err != nil {
			return nil, err
		}
		if falling {
			coil = i
		}
	}
	if coil >= 0 {
		features[coil].Coil = true
	}
	b.describe(features)
	return features, nil
}

// prominent drops pairs of a peak and a dip that hardly stand from each other,
// the least first.
func prominent(list []scanned, peak []bool) ([]scanned, []bool) {
	for {
		best, least := -1, standing
		for i := 1; i < len(list); i++ {
			if d := math.Abs(20 * math.Log10(list[i].size/list[i-1].size)); d < least {
				best, least = i, d
			}
		}
		if best < 0 {
			return list, peak
		}
		list = append(list[:best-1], list[best+1:]...)
		peak = append(peak[:best-1], peak[best+1:]...)
	}
}

// feature reads the state of the box at a feature. It is falling if it is a dip
// where the cone's mass alone makes the motional impedance fall, as 1/f, until
// the coil's inductance meets it; a dip that the air makes has a minimum of the
// motional impedance near it instead.
func (b *Bench) feature(f float64, peak bool) (v Feature, falling bool, err error) {
	if err := b.Solve(f); err != nil {
		return v, false, err
	}
	z := b.Impedance(0)
	v = Feature{Kind: "dip", Frequency: f, Impedance: cmplx.Abs(z)}
	if peak {
		v.Kind = "peak"
	}
	blocked, slope, alike := b.blocked()
	moving := z
	motion := b.ImpedanceSlope(0)
	v.Whole = !alike
	if alike {
		moving -= blocked
		motion -= slope
	}
	v.Q = b.omega / 2 * math.Abs(imag(motion/moving))
	v.Kinetic, v.Potential, v.Loss = b.Shares()
	v.Pressures, v.Flows = b.pressures(), b.flows()
	falling = !peak && alike && imag(blocked) > 0 && real(motion/moving)*b.omega < -0.5 && b.coneShare(v.Kinetic) > 0.5
	return v, falling, nil
}

// blocked returns the impedance of the first drive's load with all cones held
// and its derivative in ω. It is not alike, and meaningless, where parts lie in
// front of the mounts or these differ.
func (b *Bench) blocked() (z, slope complex128, alike bool) {
	m := b.Model
	if m.Drives[0].Between {
		return 0, 0, false
	}
	series := false
	if len(m.Design.Drives) > 0 {
		series = m.Design.Drives[0].Wiring == 1
	}
	name, n := "", 0.0
	for _, v := range m.Mounts {
		if v.Drive != 0 {
			continue
		}
		own := v.Driver.Name
		if name != "" && own != name {
			return 0, 0, false
		}
		name = own
		ze, dze := v.Coil.Blocked(b.work.Point()), v.Coil.BlockedSlope(b.work.Point())
		k := complex(1/v.Count, 0)
		if v.Coil.Series {
			k = complex(v.Count, 0)
		}
		ze, dze = ze*k, dze*k
		switch {
		case n == 0:
			z, slope = ze, dze
		case series:
			z, slope = z+ze, slope+dze
		default: // in parallel: 1/z adds
			y, dy := 1/z+1/ze, -slope/(z*z)-dze/(ze*ze)
			z, slope = 1/y, -dy/(y*y)
		}
		n++
	}
	return z, slope, n > 0
}

// Shares returns where the box's energy is and where it goes at the last solve:
// of the kinetic energy, of the potential energy and of the loss, each summing
// to one.
func (b *Bench) Shares() (kinetic, potential, loss map[string]float64) {
	kinetic, potential, loss = map[string]float64{}, map[string]float64{}, map[string]float64{}
	p := b.work.Point()
	for i := range b.Model.Parts {
		part := &b.Model.Parts[i]
		e := part.Element.Budget(p, b.x)
		switch part.Group {
		case 0, 1: // moving parts and ducts
			kinetic[part.Name] += e.Kinetic
			potential[part.Name] += e.Potential
			loss[part.LossName] += e.Loss
		case 2: // chambers
			potential[part.Name] += e.Potential
			if e.Loss > 0 {
				loss[part.LossName] += e.Loss
			}
		default:
			if e.Loss != 0 || part.Name == "radiation" {
				loss[part.LossName] += e.Loss
			}
		}
	}
	for _, g := range []map[string]float64{kinetic, potential, loss} {
		sum := 0.0
		for _, v := range g {
			sum += v
		}
		for k := range g {
			if sum > 0 {
				g[k] /= sum
			} else {
				g[k] = 0
			}
		}
	}
	return kinetic, potential, loss
}

// relative divides phasors by the largest of them.
func relative(z map[string]complex128) map[string]Relative {
	var most complex128
	for _, v := range z {
		if cmplx.Abs(v) > cmplx.Abs(most) {
			most = v
		}
	}
	r := map[string]Relative{}
	for k, v := range z {
		if most == 0 {
			r[k] = Relative{}
			continue
		}
		q := v / most
		r[k] = Relative{cmplx.Abs(q), Degrees(q)}
	}
	return r
}

func (b *Bench) pressures() map[string]Relative {
	z := map[string]complex128{}
	for _, c := range b.Model.Chambers {
		z[c.Name] = b.x[c.Pressure]
	}
	return relative(z)
}

// flows are the volume velocities of the openings, outwards, all members
// together.
func (b *Bench) flows() map[string]Relative {
	z := map[string]complex128{}
	l := b.Model.Listener
	if l == nil {
		return map[string]Relative{}
	}
	for i := range l.Openings {
		o := &l.Openings[i]
		k := o.Sign * o.Count
		if o.Factor != network.None {
			k *= b.Values[o.Factor]
		}
		z[b.Model.Openings[i].Part] += complex(0, b.omega*k) * b.x[o.Flow]
	}
	return relative(z)
}
