// Package driver is the electrodynamic driver: from whatever a data sheet
// gives to the five numbers that move a cone.
package driver

import (
	"fmt"
	"math"

	"ocarina/acoustic"
	"ocarina/air"
	"ocarina/formula"
)

// Unknown marks a value the data sheet does not give.
const Unknown formula.Ref = -1

// Sheet is a data sheet, each value a scalar of a graph in SI units, or
// Unknown. Re and Sd are needed, for a passive radiator only Sd.
type Sheet struct {
	Re, Sd        formula.Ref // ohm, m²
	Fs            formula.Ref // resonance in free air, Hz, with Mms
	Qms, Qes, Qts formula.Ref
	Vas           formula.Ref // m³
	Mms, Mmd      formula.Ref // kg, with and without the air's load
	Cms, Rms, Bl  formula.Ref // m/N, N s/m, T m
	Creep         formula.Ref // λ
}

// Blank returns a sheet that gives nothing.
func Blank() Sheet {
	u := Unknown
	return Sheet{u, u, u, u, u, u, u, u, u, u, u, u, u}
}

// Motor is what the sheet comes to.
type Motor struct {
	Fs, Qms, Qes, Qts, Vas formula.Ref // Unknown where there is no motor, or no loss
	Mms, Cms, Rms, Bl      formula.Ref
	Loaded                 formula.Ref // Mms with the air's load, the same unless Bare
	// Bare says that Mms is without the air's load: the air outside and in
	// chambers has to add it.
	Bare bool
}

// Disagreement says that a sheet gives a value which its other values
// contradict by more than five per cent. The first is used.
type Disagreement struct {
	Key, By    string // "mms", "fs and vas"
	Given      float64
	FromOthers float64
}

// tolerance is how far over-determined data may differ unmentioned.
const tolerance = 0.05

// MissingError says what a sheet lacks.
type MissingError struct{ Wanted string }

func (e *MissingError) Error() string { return "the data do not suffice: " + e.Wanted }

// FreeAirLoad returns the mass of air that moves with a piston of area sd in
// free air, both faces together: (16/3)·ρ·a³ (twice the baffled piston's
// 8/(3π)·ρ·a·Sd; Beranek, Acoustics, 1954, ch. 5).
func FreeAirLoad(g *formula.Graph, sd formula.Ref, m air.Medium) formula.Ref {
	return g.Scale(16.0/3*m.Density*math.Pow(math.Pi, -1.5), g.Pow(sd, 1.5))
}

// FaceLoad returns the mass of air that moves with one face of a piston that
// looks into a chamber: 8/(3π)·ρ·a·Sd.
func FaceLoad(g *formula.Graph, sd formula.Ref, m air.Medium) formula.Ref {
	return g.Scale(acoustic.PistonEnd*m.Density/math.Sqrt(math.Pi), g.Pow(sd, 1.5))
}

// Derive works out a motor from a sheet by
//
//	Cms = Vas/(ρc²Sd²),  Mms = 1/((2πfs)²Cms),
//	Rms = 2πfs·Mms/Qms,  Bl = √(2πfs·Mms·Re/Qes)
//
// (Thiele 1971; Small 1972). fs, Qms, Qes and Vas come first; Mms, Cms, Rms and
// Bl fill only what is missing. The medium is that in which Vas was stated.
// With creep Rms is lowered so that the given Qms still holds at fs.
func Derive(g *formula.Graph, s Sheet, m air.Medium) (Motor, []Disagreement, error) {
	d := deriver{g: g, s: s, medium: m}
	if err := d.qs(); err != nil {
		return Motor{}, nil, err
	}
	if err := d.spring(); err != nil {
		return Motor{}, nil, err
	}
	if err := d.losses(); err != nil {
		return Motor{}, nil, err
	}
	return d.m, d.off, nil
}

type deriver struct {
	g      *formula.Graph
	s      Sheet
	medium air.Medium
	m      Motor
	omega  formula.Ref // 2πfs
	off    []Disagreement
}

func (d *deriver) compare(key, by string, given, others formula.Ref) {
	if given == Unknown || others == Unknown {
		return
	}
	a, b := d.g.Value(given), d.g.Value(others)
	if math.Abs(a-b) > tolerance*math.Abs(b) {
		d.off = append(d.off, Disagreement{Key: key, By: by, Given: a, FromOthers: b})
	}
}

// qs completes Qms, Qes and Qts from any two.
func (d *deriver) qs() error {
	g, s, m := d.g, &d.s, &d.m
	m.Qms, m.Qes, m.Qts = s.Qms, s.Qes, s.Qts
	var err error
	switch {
	case m.Qms != Unknown && m.Qes != Unknown:
		m.Qts = g.Div(g.Mul(m.Qms, m.Qes), g.Add(m.Qms, m.Qes))
		d.compare("qts", "qms and qes", s.Qts, m.Qts)
	case m.Qms != Unknown && m.Qts != Unknown:
		m.Qes, err = d.rest("qms", m.Qms)
	case m.Qes != Unknown && m.Qts != Unknown:
		m.Qms, err = d.rest("qes", m.Qes)
	}
	return err
}

// rest is what Qts leaves beside one of Qms and Qes for the other.
func (d *deriver) rest(key string, part formula.Ref) (formula.Ref, error) {
	g, total := d.g, d.m.Qts
	if g.Value(total) >= g.Value(part) {
		return Unknown, fmt.Errorf("qts (%.4g) must be smaller than %s (%.4g)", g.Value(total), key, g.Value(part))
	}
	return g.Div(g.Mul(total, part), g.Sub(part, total)), nil
}

// single finds Qms and Qes where Qts is the only quality given, from it and the
// suspension's loss or the motor.
func (d *deriver) single(move formula.Ref) (err error) {
	g, s, m := d.g, &d.s, &d.m
	if m.Qts == Unknown || m.Qms != Unknown || m.Qes != Unknown {
		return nil
	}
	lossy := s.Rms != Unknown && g.Value(s.Rms) > 0
	driven := s.Bl != Unknown && s.Re != Unknown
	switch {
	case lossy && driven: // they say it all
		m.Qts = Unknown
	case lossy:
		m.Qes, err = d.rest("the qms that rms makes", g.Div(move, s.Rms))
	case driven:
		m.Qes = g.Div(g.Mul(move, s.Re), g.Pow(s.Bl, 2))
		m.Qms, err = d.rest("the qes that bl makes", m.Qes)
	}
	return err
}

// spring finds Cms, Mms and fs.
func (d *deriver) spring() error {
	g, s, m := d.g, &d.s, &d.m
	stiff := d.medium.Stiffness()
	area2 := g.Pow(s.Sd, 2)
	fromVas := Unknown
	if s.Vas != Unknown {
		fromVas = g.Div(g.Scale(1/stiff, s.Vas), area2)
	}
	if s.Mms != Unknown && s.Mmd != Unknown {
		d.compare("mms", "mmd and the air's load", s.Mms, g.Add(s.Mmd, FreeAirLoad(g, s.Sd, d.medium)))
	}
	loaded := s.Mms
	if loaded == Unknown && s.Mmd != Unknown {
		loaded = g.Add(s.Mmd, FreeAirLoad(g, s.Sd, d.medium))
	}
	fromFs := Unknown // compliance from resonance and mass
	if s.Fs != Unknown {
		d.omega = g.Scale(2*math.Pi, s.Fs)
		if loaded != Unknown {
			fromFs = g.Pow(g.Mul(g.Pow(d.omega, 2), loaded), -1)
		}
	}
	switch {
	case fromVas != Unknown:
		m.Cms = fromVas
		d.compare("cms", "vas", s.Cms, fromVas)
	case s.Cms != Unknown:
		m.Cms = s.Cms
	case fromFs != Unknown:
		m.Cms = fromFs
	default:
		return &MissingError{"vas or cms, or fs with mms or mmd, is wanted for the suspension"}
	}
	mass := Unknown
	if s.Fs != Unknown && m.Cms != fromFs {
		mass = g.Pow(g.Mul(g.Pow(d.omega, 2), m.Cms), -1)
		d.compare("mms", "fs and the suspension", s.Mms, mass)
		if s.Mms == Unknown {
			d.compare("mmd with the air's load", "fs and the suspension", loaded, mass)
		}
	}
	switch {
	case mass != Unknown:
		m.Mms = mass
	case loaded != Unknown:
		m.Mms = loaded
		m.Bare = s.Mms == Unknown
	default:
		return &MissingError{"fs, mms or mmd is wanted for the moving mass"}
	}
	m.Fs = s.Fs
	if m.Fs == Unknown {
		d.omega = g.Pow(g.Mul(m.Mms, m.Cms), -0.5)
		m.Fs = g.Scale(1/(2*math.Pi), d.omega)
	}
	m.Vas = s.Vas
	if m.Vas == Unknown {
		m.Vas = g.Scale(stiff, g.Mul(m.Cms, area2))
	}
	return nil
}

// losses finds Rms and Bl, after which a bare mass is left without its load.
func (d *deriver) losses() error {
	g, s, m := d.g, &d.s, &d.m
	move := g.Mul(d.omega, m.Mms)
	if err := d.single(move); err != nil {
		return err
	}
	given := m.Qms != Unknown // outright, or by qts and qes
	switch {
	case m.Qms != Unknown:
		m.Rms = g.Div(move, m.Qms)
		d.compare("rms", "qms", s.Rms, m.Rms)
	case s.Rms != Unknown:
		m.Rms = s.Rms
		if g.Value(s.Rms) > 0 {
			m.Qms = g.Div(move, s.Rms)
		}
	default:
		return &MissingError{"qms or rms is wanted for the suspension's loss, or qts with qes or bl"}
	}
	m.Bl = Unknown
	if s.Re != Unknown {
		switch {
		case m.Qes != Unknown:
			m.Bl = g.Sqrt(g.Div(g.Mul(move, s.Re), m.Qes))
			d.compare("bl", "qes", s.Bl, m.Bl)
		case s.Bl != Unknown:
			m.Bl = s.Bl
			m.Qes = g.Div(g.Mul(move, s.Re), g.Pow(s.Bl, 2))
		default:
			return &MissingError{"qes or bl is wanted for the motor, or qts with qms or rms"}
		}
		if m.Qts == Unknown && m.Qms != Unknown {
			m.Qts = g.Div(g.Mul(m.Qms, m.Qes), g.Add(m.Qms, m.Qes))
			d.compare("qts", "rms and bl", s.Qts, m.Qts)
		}
	}
	if s.Creep != Unknown && given {
		eased := g.Apply2(s.Creep, g.Mul(d.omega, m.Cms), creepLoss)
		m.Rms = g.Sub(m.Rms, eased)
		if g.Value(m.Rms) < 0 {
			return fmt.Errorf("creep %.4g alone loses more than qms %.4g allows at fs: lower one of them", g.Value(s.Creep), g.Value(m.Qms))
		}
	}
	m.Loaded = m.Mms
	if m.Bare {
		m.Mms = s.Mmd
	}
	return nil
}

// creepLoss is the mechanical resistance that creep itself makes at fs: the real
// part of 1/(jω·Cms·(1 − jε)), ε = λ·(π/2)/ln 10, given λ and ωs·Cms.
func creepLoss(lambda, y float64) (r, perLambda, perY float64) {
	k := math.Pi / 2 / math.Ln10
	e := lambda * k
	q := 1 + e*e
	r = e / (q * y)
	return r, k * (1 - e*e) / (q * q * y), -r / y
}

// Heated returns a coil's resistance at a temperature [K] given that at 20 °C:
// copper, 0.393 % per kelvin (IEC 60028 gives 0.00393 at 20 °C).
func Heated(g *formula.Graph, re, temperature formula.Ref) formula.Ref {
	const perKelvin = 0.00393
	rise := g.Apply(temperature, func(t float64) (float64, float64) { return 1 + perKelvin*(t-293.15), perKelvin })
	return g.Mul(re, rise)
}
