package fit

import (
	"context"
	"fmt"
	"math"

	"ocarina/design"
)

// edit is a word of the design to be set.
type edit struct{ part, key, text string }

// suspicion is another box than the drawn one that may have been on the table.
type suspicion struct {
	design  *design.Design
	hold    []string // parameters that mean nothing then
	finding Finding
	edits   []edit
}

// absurd is how many standard deviations of its tolerance a parameter may be off
// before something else is supposed to be wrong.
const absurd = 4.0

// poor reports whether the fit leaves much, and pull how many standard deviations
// its strangest parameter is off.
func (f *fitting) poor() (poor bool, pull float64) {
	for j := range f.free {
		pull = math.Max(pull, math.Abs(f.x[j])/f.free[j].sigma)
	}
	return f.fittedResidual > 0.5 && f.fittedResidual > 3*decibels*f.noise || f.fittedResidual > 1.5, pull
}

// suspect looks for mistakes that no dimension can make up for, where the fit is
// poor or its parameters are absurd: wiring, polarity, an open chamber. It returns
// the fitting that explains the sweep, which is mostly f itself.
func (f *fitting) suspect(ctx context.Context) (*fitting, error) {
	poor, pull := f.poor()
	if !poor && pull < absurd || len(f.free) == 0 {
		return f, nil
	}
	best := f
	for _, s := range f.suspicions() {
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		opt := f.opt
		opt.Progress = nil
		opt.Hold = append(append([]string{}, opt.Hold...), s.hold...)
		g, err := start(s.design, f.sweep, opt)
		if err != nil {
			continue // not a box, or nothing of it left to turn
		}
		if err := g.fit(ctx); err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			continue
		}
		_, own := best.poor()
		_, other := g.poor()
		if g.fittedResidual < 0.5*best.fittedResidual && other < own+1 || own > absurd && other < own/2 && g.fittedResidual < 1.15*best.fittedResidual {
			s.finding.Reading += fmt.Sprintf(" The residual falls from %s dB to %s dB with that.", digits(f.fittedResidual, 2), digits(g.fittedResidual, 2))
			g.told, g.texts = append([]Finding{s.finding}, f.told...), s.edits
			g.drawnResidual = f.drawnResidual
			g.warnings = append(append([]string{}, f.warnings...), g.warnings...)
			best = g
		}
	}
	return best, nil
}

// suspicions lists what may have gone wrong with this design.
func (f *fitting) suspicions() (list []suspicion) {
	d := f.design
	for i, c := range d.Chambers {
		v := *d
		v.Chambers = append([]*design.Chamber(nil), d.Chambers...)
		open := &design.Chamber{Named: c.Named, Volume: design.Quantity{SI: 1e3, Unit: "m3", Given: true}}
		v.Chambers[i] = open
		v.Tolerances = nil
		list = append(list, suspicion{design: &v, hold: []string{c.Name},
			finding: Finding{Open, c.Name, fmt.Sprintf("The sweep fits a box whose chamber %s is open: it was measured with the box open, or %s has a large hole.", c.Name, c.Name)}})
	}
	if len(d.Mounts) > 1 {
		for i, m := range d.Mounts {
			v := *d
			v.Mounts = append([]*design.Mount(nil), d.Mounts...)
			other := *m
			other.Reversed = !m.Reversed
			v.Mounts[i] = &other
			list = append(list, suspicion{design: &v, edits: []edit{{m.Name, "reversed", fmt.Sprint(other.Reversed)}},
				finding: Finding{Polarity, m.Name, fmt.Sprintf("%s is wired the other way round than drawn: its two leads are swapped.", m.Name)}})
		}
		if len(d.Drives) > 0 {
			v := *d
			v.Drives = append([]*design.Drive(nil), d.Drives...)
			other := *v.Drives[0]
			other.Wiring = 1 - other.Wiring
			v.Drives[0] = &other
			part := other.Name
			if part == "" {
				part = "drive"
			}
			list = append(list, suspicion{design: &v, edits: []edit{{part, "wiring", wired(other.Wiring)}},
				finding: Finding{Wiring, part, fmt.Sprintf("The mounts are wired in %s, not as drawn.", wired(other.Wiring))}})
		}
	}
	for i, m := range d.Mounts {
		if m.Count.Or(1) < 2 {
			continue
		}
		v := *d
		v.Mounts = append([]*design.Mount(nil), d.Mounts...)
		other := *m
		other.Wiring = 1 - m.Wiring
		v.Mounts[i] = &other
		list = append(list, suspicion{design: &v, edits: []edit{{m.Name, "wiring", wired(other.Wiring)}},
			finding: Finding{Wiring, m.Name, fmt.Sprintf("The drivers of %s are wired in %s, not as drawn.", m.Name, wired(other.Wiring))}})
	}
	return list
}

func wired(w design.Wiring) string {
	if w == design.Series {
		return "series"
	}
	return "parallel"
}

// orient finds out whether the phase of a sweep has the wrong sign, or is half a
// turn off, by what the drawn box would give; and returns the sweep put right.
func (f *fitting) orient() {
	if f.sweep.Phase == nil {
		return
	}
	o := f.objective(roughReadings(readings(f.sweep, f.from, f.to, mostPoints), f.measured))
	r := make([]float64, o.residuals())
	if len(o.readings) < fewest || o.evaluate(make([]float64, len(f.free)), r, nil) != nil {
		return
	}
	n := len(o.readings)
	var off [4]float64 // as read, sign changed, half a turn off, both
	for i, d := range o.readings {
		model := turn(r[n+i]/math.Max(d.weight, 1e-9) + d.phase)
		for k, v := range [4]float64{d.phase, -d.phase, d.phase + math.Pi, -d.phase + math.Pi} {
			e := math.Abs(turn(model - v))
			off[k] += e
		}
	}
	best := 0
	for k := range off {
		if off[k] < off[best] {
			best = k
		}
	}
	if best == 0 || off[best] > 0.4*off[0] {
		return
	}
	s := *f.sweep
	s.Phase = append([]float64(nil), f.sweep.Phase...)
	for i, p := range s.Phase {
		if best == 1 || best == 3 {
			p = -p
		}
		if best >= 2 {
			p += math.Pi
		}
		s.Phase[i] = turn(p)
	}
	f.sweep = &s
	what := [4]string{"", "has the opposite sign", "is half a turn off", "has the opposite sign and is half a turn off"}[best]
	f.told = append(f.told, Finding{Polarity, "", fmt.Sprintf("The phase of the sweep %s: two leads of the measuring rig are swapped, or it writes phase the other way round. It was turned back for the fit.", what)})
}
