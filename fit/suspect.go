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

// absurd is how improbable a box may be, as strange counts it, before something
// else is supposed to be wrong: three dimensions three and a half standard deviations
// off their tolerance, or a single one two dozen.
const absurd = 12.0

// strange sums up how improbable the box's strangest dimensions are.
func (f *fitting) strange() (sum float64) {
	for j := range f.x {
		if z := math.Abs(f.x[j]) / f.free[j].sigma; z > 1.5*surprise {
			sum += surprise * surprise * (0.5 + math.Log(z/surprise))
		}
	}
	return sum
}

// poor reports whether the fit leaves much.
func (f *fitting) poor() bool {
	return f.fittedResidual > 0.5 && f.fittedResidual > 3*decibels*f.noise || f.fittedResidual > 1.5
}

// suspect looks for mistakes that no dimension can make up for, where the fit is
// poor or its parameters are absurd: wiring, polarity, an open chamber. It returns
// the fitting that explains the sweep, which is mostly f itself.
func (f *fitting) suspect(ctx context.Context) (*fitting, error) {
	if !f.poor() && f.strange() < absurd || len(f.free) == 0 {
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
		g.single = true
		if err := g.fit(ctx); err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			continue
		}
		own, other := best.strange(), g.strange()
		if g.fittedResidual < 0.5*best.fittedResidual && other < own+surprise*surprise || own >= absurd && other < own/2 && g.fittedResidual < 1.15*best.fittedResidual {
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
		if v := lined(d, i); v != nil {
			list = append(list, suspicion{design: v, hold: []string{c.Name},
				finding: Finding{Line, c.Name, fmt.Sprintf("The sweep fits a box whose chamber %s is a line as long as its longest side: it behaves as one. Draw it as a line, with its driver and ports at their places.", c.Name)}})
		}
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

// lined returns the design with the nth chamber as a line along its longest side,
// everything joined at its open end; nil where its sides are not known or it is no
// longer than wide.
func lined(d *design.Design, n int) *design.Design {
	c := d.Chambers[n]
	if len(c.Size) != 3 {
		return nil
	}
	long, volume := 0.0, 1.0
	for _, q := range c.Size {
		long = math.Max(long, q.SI)
		volume *= q.SI
	}
	if long*long*long < 4*volume {
		return nil
	}
	v := *d
	v.Tolerances = nil
	v.Chambers = append(append([]*design.Chamber(nil), d.Chambers[:n]...), d.Chambers[n+1:]...)
	point := c.Name + "-end"
	v.Junctions = append(append([]*design.Junction(nil), d.Junctions...), &design.Junction{Named: design.Named{Name: point}})
	at := func(p design.Place) design.Place {
		if p.Kind == design.InChamber && p.Name == c.Name {
			p.Kind, p.Name = design.AtJunction, point
		}
		return p
	}
	given := func(si float64, unit string) design.Quantity { return design.Quantity{SI: si, Unit: unit, Given: true} }
	v.Lines = nil
	for _, l := range d.Lines {
		o := *l
		o.From, o.To = at(l.From), at(l.To)
		v.Lines = append(v.Lines, &o)
	}
	v.Lines = append(v.Lines, &design.Line{Named: c.Named, From: design.Place{Kind: design.Closed}, To: design.Place{Kind: design.AtJunction, Name: point},
		Sections: []*design.Section{{Length: given(long, "m"), Area: given(volume/long, "m2")}}})
	v.Ports, v.Mounts, v.Passives, v.Leaks = nil, nil, nil, nil
	for _, p := range d.Ports {
		o := *p
		o.From, o.To = at(p.From), at(p.To)
		v.Ports = append(v.Ports, &o)
	}
	for _, m := range d.Mounts {
		o := *m
		o.Front, o.Rear = at(m.Front), at(m.Rear)
		v.Mounts = append(v.Mounts, &o)
	}
	for _, p := range d.Passives {
		o := *p
		o.Front, o.Rear = at(p.Front), at(p.Rear)
		v.Passives = append(v.Passives, &o)
	}
	for _, l := range d.Leaks {
		o := *l
		o.From, o.To = at(l.From), at(l.To)
		v.Leaks = append(v.Leaks, &o)
	}
	return &v
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
