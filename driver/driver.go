// Package driver is the electrodynamic driver: from whatever a data sheet
// gives to the five numbers that move a cone.
package driver

import (
	"fmt"
	"math"
	"strings"

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
// contradict by more than five per cent. The others are used.
type Disagreement struct {
	Key, By    string // "mms", "fs and the suspension"
	Given      float64
	FromOthers float64
}

// String says it in a sentence that a part's name goes before.
func (d Disagreement) String() string {
	makes, used := "makes", "That is used."
	if strings.Contains(d.By, " and ") {
		makes, used = "make", "These are used."
	}
	return fmt.Sprintf("gives %s as %.4g, but %s %s it %.4g (SI units): more than 5 %% apart. %s", d.Key, d.Given, d.By, makes, d.FromOthers, used)
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
// Bl fill only what is missing. Any set that determines the motor will do. The medium is that in which Vas was stated.
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
	move   formula.Ref // 2πfs·Mms
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

// both is the Q of two losses together.
func (d *deriver) both(a, b formula.Ref) formula.Ref {
	return d.g.Div(d.g.Mul(a, b), d.g.Add(a, b))
}

// less is the Q that is left of a total without a part, named for the reader.
func (d *deriver) less(total, part formula.Ref, name string) (formula.Ref, error) {
	g := d.g
	if g.Value(total) >= g.Value(part) {
		return Unknown, fmt.Errorf("qts (%.4g) must be smaller than %s (%.4g)", g.Value(total), name, g.Value(part))
	}
	return g.Div(g.Mul(total, part), g.Sub(part, total)), nil
}

// qs completes Qms, Qes and Qts from any two.
func (d *deriver) qs() (err error) {
	m := &d.m
	m.Qms, m.Qes, m.Qts = d.s.Qms, d.s.Qes, d.s.Qts
	switch {
	case m.Qms != Unknown && m.Qes != Unknown:
		m.Qts = d.both(m.Qms, m.Qes)
	case m.Qms != Unknown && m.Qts != Unknown:
		m.Qes, err = d.less(m.Qts, m.Qms, "qms")
	case m.Qes != Unknown && m.Qts != Unknown:
		m.Qms, err = d.less(m.Qts, m.Qes, "qes")
	}
	return err
}

// spring finds Cms, Mms and fs from two of them, or from one of them and what
// the losses say of ωs·Mms.
func (d *deriver) spring() error {
	g, s, m := d.g, &d.s, &d.m
	stiff := d.medium.Stiffness()
	area2 := g.Pow(s.Sd, 2)
	compliance := s.Cms
	if s.Vas != Unknown {
		compliance = g.Div(g.Scale(1/stiff, s.Vas), area2)
		d.compare("cms", "vas", s.Cms, compliance)
	}
	loaded, bare := s.Mms, Unknown
	if s.Mmd != Unknown {
		bare = g.Add(s.Mmd, FreeAirLoad(g, s.Sd, d.medium))
		if loaded == Unknown {
			loaded = bare
		}
	}
	if s.Fs != Unknown {
		d.omega = g.Scale(2*math.Pi, s.Fs)
	}
	if d.move = d.moveByLosses(); d.move == Unknown {
		switch {
		case compliance == Unknown && (s.Fs == Unknown || loaded == Unknown):
			return &MissingError{"vas or cms, or fs with mms or mmd, is wanted for the suspension"}
		case s.Fs == Unknown && loaded == Unknown:
			return &MissingError{"fs, mms or mmd is wanted for the moving mass"}
		}
	}
	m.Mms, m.Cms = loaded, compliance
	switch {
	case s.Fs != Unknown && compliance != Unknown:
		m.Mms = g.Pow(g.Mul(g.Pow(d.omega, 2), compliance), -1)
		d.compare("mms", "fs and the suspension", s.Mms, m.Mms)
		d.compare("mmd with the air's load", "fs and the suspension", bare, m.Mms)
		loaded = Unknown
	case s.Fs != Unknown && loaded != Unknown:
		m.Cms = g.Pow(g.Mul(g.Pow(d.omega, 2), loaded), -1)
	case compliance != Unknown && loaded != Unknown:
		d.omega = g.Pow(g.Mul(loaded, compliance), -0.5)
	case s.Fs != Unknown:
		m.Mms, m.Cms = g.Div(d.move, d.omega), g.Pow(g.Mul(d.move, d.omega), -1)
	case loaded != Unknown:
		d.omega = g.Div(d.move, loaded)
		m.Cms = g.Pow(g.Mul(d.move, d.omega), -1)
	case compliance != Unknown:
		d.omega = g.Pow(g.Mul(d.move, compliance), -1)
		m.Mms = g.Div(d.move, d.omega)
	default:
		return &MissingError{"fs, vas, cms, mms or mmd is wanted for the resonance"}
	}
	if loaded != Unknown {
		d.compare("mmd with the air's load", "mms", bare, loaded)
		m.Bare = s.Mms == Unknown
	}
	d.move = g.Mul(d.omega, m.Mms)
	m.Fs = s.Fs
	if m.Fs == Unknown {
		m.Fs = g.Scale(1/(2*math.Pi), d.omega)
	}
	m.Vas = s.Vas
	if m.Vas == Unknown {
		m.Vas = g.Scale(stiff, g.Mul(m.Cms, area2))
	}
	return nil
}

// damping is the mechanical resistance that the shorted motor adds, Bl²/Re, or
// Unknown.
func (d *deriver) damping() formula.Ref {
	if d.s.Re == Unknown || d.s.Bl == Unknown {
		return Unknown
	}
	return d.g.Div(d.g.Pow(d.s.Bl, 2), d.s.Re)
}

// moveByLosses returns ωs·Mms from a resistance and the Q it makes, or Unknown:
//
//	ωs·Mms = Qms·Rms = Qes·Bl²/Re = Qts·(Rms + Bl²/Re).
func (d *deriver) moveByLosses() formula.Ref {
	g, s, m := d.g, &d.s, &d.m
	motor := d.damping()
	lossy := s.Rms != Unknown && g.Value(s.Rms) > 0
	switch {
	case m.Qms != Unknown && lossy:
		return g.Mul(m.Qms, s.Rms)
	case m.Qes != Unknown && motor != Unknown:
		return g.Mul(m.Qes, motor)
	case m.Qts != Unknown && s.Rms != Unknown && motor != Unknown:
		return g.Mul(m.Qts, g.Add(s.Rms, motor))
	}
	return Unknown
}

// split finds Qms and Qes from Qts and the one resistance that is given.
func (d *deriver) split() (err error) {
	g, s, m := d.g, &d.s, &d.m
	if m.Qts == Unknown || m.Qms != Unknown || m.Qes != Unknown {
		return nil
	}
	motor := d.damping()
	switch {
	case motor != Unknown && s.Rms != Unknown: // both resistances, and qts is compared
	case motor != Unknown:
		m.Qes = g.Div(d.move, motor)
		m.Qms, err = d.less(m.Qts, m.Qes, "the qes that bl makes")
	case s.Rms != Unknown && g.Value(s.Rms) > 0:
		m.Qms = g.Div(d.move, s.Rms)
		m.Qes, err = d.less(m.Qts, m.Qms, "the qms that rms makes")
	case s.Rms != Unknown:
		m.Qes = m.Qts
	}
	return err
}

// losses finds Rms and Bl, after which a bare mass is left without its load.
func (d *deriver) losses() error {
	g, s, m := d.g, &d.s, &d.m
	given := s.Rms == Unknown || m.Qms != Unknown // Qms outright or by other Qs, not by Rms
	if err := d.split(); err != nil {
		return err
	}
	driven := s.Re != Unknown
	lossless := m.Qms == Unknown && s.Rms == Unknown
	still := driven && m.Qes == Unknown && s.Bl == Unknown
	switch {
	case lossless && still && m.Qts != Unknown:
		return &MissingError{"qms, rms, qes or bl is wanted beside qts"}
	case lossless && still:
		return &MissingError{"qms or rms is wanted for the suspension's loss, and qes or bl for the motor"}
	case lossless && driven:
		return &MissingError{"qms, rms or qts is wanted for the suspension's loss"}
	case lossless:
		return &MissingError{"qms or rms is wanted for the suspension's loss"}
	case still:
		return &MissingError{"qes, bl or qts is wanted for the motor"}
	}
	if m.Qms != Unknown {
		m.Rms = g.Div(d.move, m.Qms)
		d.compare("rms", "qms", s.Rms, m.Rms)
	} else {
		m.Rms = s.Rms
		if g.Value(s.Rms) > 0 {
			m.Qms = g.Div(d.move, s.Rms)
		}
	}
	m.Bl = Unknown
	if driven {
		if m.Qes != Unknown {
			m.Bl = g.Sqrt(g.Div(g.Mul(d.move, s.Re), m.Qes))
			d.compare("bl", "qes", s.Bl, m.Bl)
		} else {
			m.Bl = s.Bl
			m.Qes = g.Div(d.move, d.damping())
		}
		m.Qts = m.Qes
		if m.Qms != Unknown {
			m.Qts = d.both(m.Qms, m.Qes)
		}
		d.compare("qts", "qms and qes", s.Qts, m.Qts)
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
