// Package design holds an enclosure as its builder describes it: the design
// file read, checked, written and scaled, and the network it stands for.
//
// Numbers are SI from the moment they are read. Each keeps the unit and the
// place in the file it was written with, so that messages point at it and a
// changed value goes back where it came from.
package design

import (
	"math"

	"github.com/hashicorp/hcl/v2"
)

// Quantity is one number of a design file.
type Quantity struct {
	SI    float64   // the value in SI units
	Unit  string    // the unit it was written in, "" for a plain number
	Given bool      // false: the key is not in the file, SI is meaningless
	Range hcl.Range // where it stands
}

// Or returns the value, or what to take when the file does not give it.
func (q Quantity) Or(otherwise float64) float64 {
	if q.Given {
		return q.SI
	}
	return otherwise
}

// PlaceKind says what a part is joined to.
type PlaceKind int

const (
	Nowhere PlaceKind = iota // not given
	Outside
	Closed
	InChamber
	AtJunction
)

// Place is what one end of a part is joined to.
type Place struct {
	Kind  PlaceKind
	Name  string // of the chamber or junction
	Range hcl.Range
}

// String returns the place as a design file writes it: "outside",
// "chamber.near".
func (p Place) String() string {
	switch p.Kind {
	case Outside:
		return "outside"
	case Closed:
		return "closed"
	case InChamber:
		return "chamber." + p.Name
	case AtJunction:
		return "junction." + p.Name
	}
	return "nowhere"
}

// Named is what every named part of a design has.
type Named struct {
	Name  string
	Range hcl.Range // the block's header
}

// Walls says whether a part's walls take heat and friction from the air.
type Walls int

const (
	WallsDefault Walls = iota // real for ports and lines, ideal for chambers
	WallsReal
	WallsIdeal
)

// Design is one enclosure.
type Design struct {
	Title, Author, Notes string
	Tones                []Quantity
	Air                  Air
	Drivers              []*Driver
	Chambers             []*Chamber
	Ports                []*Port
	Lines                []*Line
	Junctions            []*Junction
	Mounts               []*Mount
	Passives             []*Passive
	Leaks                []*Leak
	Drives               []*Drive // empty: one default drive
	Listen               Listen
	Tolerances           []Tolerance

	Source *Source // the file behind it; nil for a design made in memory
}

// Air is the medium, as far as the file says.
type Air struct {
	Temperature, Pressure, Humidity           Quantity
	Density, Speed, Viscosity, Gamma, Prandtl Quantity
	Range                                     hcl.Range
}

// Driver is an electrodynamic driver's data sheet.
type Driver struct {
	Named
	File                   string // another design file beside this one that its data were read from, or ""
	Re, Le, Sd             Quantity
	Fs, Qms, Qes, Qts, Vas Quantity
	Mms, Mmd, Cms, Rms, Bl Quantity
	Xmax, Xmech, Power     Quantity
	Displacement           Quantity // volume its body takes from a chamber
	Creep                  Quantity // λ
	Coil                   *Coil
	Large                  *Large   // what changes at large signals, or nil
	NotScaled              []string // keys a scaled copy carries over unscaled: "power", "large.coil_time"
}

// Coil is a voice coil whose inductance is not a plain one: K·(jω)^n, or Le in
// series with L2 parallel to R2.
type Coil struct {
	K, N       Quantity
	Le, L2, R2 Quantity
	Range      hcl.Range
}

// XmaxBy says which of force factor and compliance sets a driver's xmax.
type XmaxBy int

const (
	XmaxByBoth XmaxBy = iota // both at once
	XmaxByBl                 // the force factor has fallen to 82 %
	XmaxByCms                // the compliance has fallen to 75 %
)

// Large is how a driver changes with displacement, current and heat.
// Displacement is positive out of the front face. Curves count relative to
// their value at rest, so that a small signal finds the data sheet's values.
type Large struct {
	XmaxBy       XmaxBy     // of curves that are not given
	BlOffset     Quantity   // displacement at which the force factor of such a curve is highest
	CmsAsymmetry Quantity   // (K(xmax) − K(−xmax))/(K(xmax) + K(−xmax)) of such a curve
	X            []Quantity // displacements of the tables, ascending
	Bl, Cms, Le  []Quantity // at each of X
	I            []Quantity // currents, ascending
	LeAtI        []Quantity // inductance at each of I
	// Coefficients of x/xmax, (x/xmax)², … of value/value at rest − 1.
	BlShape, KmsShape, LeShape []Quantity

	CoilThermal, MagnetThermal Quantity // plain number, K/W
	CoilTime, MagnetTime       Quantity // time constants
	CoilLimit                  Quantity // temperature the coil bears
	Range                      hcl.Range
}

// Chamber is a space with one pressure.
type Chamber struct {
	Named
	Volume          Quantity
	Size            []Quantity // three lengths
	Gross           bool       // volume and size are before parts inside are taken off
	Bracing         Quantity   // volume
	Fill            Quantity   // 0..1
	FlowResistivity Quantity
	LeakQ, LeakAt   Quantity
	Walls           Walls
	Temperature     Quantity // air of its own, warmed by a coil
}

// End is the shape of a port's end.
type End int

const (
	Flush End = iota
	FreeEnd
	Slot
	NoEnd
)

// Edge is how a port's rim is shaped, which settles what fast air loses there.
type Edge int

const (
	SharpEdge Edge = iota
	RoundedEdge
	FlaredEdge
)

// Port is one or more equal uniform ducts side by side.
type Port struct {
	Named
	From, To       Place
	Diameter, Area Quantity
	Size           []Quantity // two lengths: a rectangle
	Length         Quantity
	Count          Quantity // whole number, default 1
	Ends           [2]End
	EndsRange      hcl.Range
	Edges          [2]Edge
	EdgesRange     hcl.Range
	EdgeRadius     Quantity   // of rounded and flared rims
	Wall           Quantity   // area of the chamber wall a flush end sits in
	EndCorrection  []Quantity // two lengths
	Resistance     Quantity   // acoustic
	SpeedLimit     Quantity
	Inside         []Quantity // one or two lengths of the body standing in gross chambers, see InsideLengths
	WallThickness  Quantity
	Walls          Walls
	Position       []Quantity // three lengths
}

// InsideLengths returns how much of the body stands in the chamber at the from
// end and how much in the one at the to end [m]. A single length given is in the
// from chamber, or in the to chamber where the from end is at none.
func (p *Port) InsideLengths() (from, to float64) {
	switch {
	case len(p.Inside) == 2:
		return p.Inside[0].SI, p.Inside[1].SI
	case len(p.Inside) == 0:
	case p.From.Kind == InChamber:
		return p.Inside[0].SI, 0
	case p.To.Kind == InChamber:
		return 0, p.Inside[0].SI
	}
	return 0, 0
}

// Shape is how a section's area goes from one end to the other.
type Shape int

const (
	Straight Shape = iota
	Conical
	Exponential
)

// Section is one piece of a line.
type Section struct {
	Length, Area, Diameter Quantity
	Size                   []Quantity // two lengths
	ToArea                 Quantity
	Shape                  Shape
	Range                  hcl.Range
}

// StartArea returns the area at the section's from end [m²], however it is given.
func (s *Section) StartArea() float64 { return openingArea(s.Area, s.Diameter, s.Size) }

// OpeningArea returns the area of one of the port's ducts [m²], however it is
// given.
func (p *Port) OpeningArea() float64 { return openingArea(p.Area, p.Diameter, p.Size) }

func openingArea(area, diameter Quantity, size []Quantity) float64 {
	switch {
	case area.Given:
		return area.SI
	case diameter.Given:
		return math.Pi / 4 * diameter.SI * diameter.SI
	case len(size) == 2:
		return size[0].SI * size[1].SI
	}
	return 0
}

// Line is a chain of sections: a transmission line or a horn.
type Line struct {
	Named
	From, To              Place
	Sections              []*Section
	Fill, FlowResistivity Quantity
	SpeedLimit            Quantity
	Walls                 Walls
	Position              []Quantity
}

// Junction is a point where lines, ports and mounts meet.
type Junction struct{ Named }

// Wiring joins several things electrically.
type Wiring int

const (
	Parallel Wiring = iota
	Series
)

// Mount is one driver, or several equal ones, between two places.
type Mount struct {
	Named
	Driver      string // name of the driver
	DriverRange hcl.Range
	Front, Rear Place
	Count       Quantity
	Wiring      Wiring
	Reversed    bool
	Drive       string // name of the drive, "" for the only one
	DriveRange  hcl.Range
	Position    []Quantity
}

// Passive is a passive radiator: a driver with no motor.
type Passive struct {
	Named
	Sd, Mms, Cms, Rms, Fs, Qms, Vas Quantity
	Xmax, Count                     Quantity
	Front, Rear                     Place
	Position                        []Quantity
}

// Leak is an acoustic resistance between a chamber and a chamber or the
// outside.
type Leak struct {
	Named
	From, To   Place
	Resistance Quantity
	Radiates   bool
}

// FilterKind is what a filter block does.
type FilterKind int

const (
	HighPass FilterKind = iota // ahead of the amplifier, order 1 to 8, Butterworth or with q at order 2
	LowPass
	LowShelf
	HighShelf
	Bell
	SeriesParts // parts between amplifier and mount, in the line
	ShuntParts  // parts between amplifier and mount, across the line
)

// Filter is one section of a drive: ahead of its amplifier (frequency, q,
// gain, order) or made of parts between amplifier and mounts (resistance,
// inductance, capacitance in series with one another).
type Filter struct {
	Kind                                FilterKind
	Frequency, Q, Order                 Quantity
	Gain                                Quantity // plain number, dB
	Resistance, Inductance, Capacitance Quantity
	Range                               hcl.Range
}

// Drive is an amplifier channel.
type Drive struct {
	Named                  // the name is "" for the unlabelled one
	Voltage, Power         Quantity
	SourceResistance       Quantity
	Wiring                 Wiring   // joins its mounts
	Gain                   Quantity // plain number, dB
	Delay                  Quantity
	Reversed               bool
	CoilTemperature        Quantity
	MaxVoltage, MaxCurrent Quantity
	Filters                []*Filter
}

// Space is the solid angle the box radiates into.
type Space int

const (
	HalfSpace Space = iota
	FullSpace
	QuarterSpace
	EighthSpace
)

// What holds where a design does not say.
const (
	DefaultVoltage  = 2.83 // V RMS
	DefaultDistance = 1    // m
)

// Listen is where the level is read and what the openings see.
type Listen struct {
	Distance  Quantity
	Position  []Quantity
	Space     Space
	Radiation bool // false: openings see zero impedance
	Range     hcl.Range
}

// Tolerance is how far a value may be off, for spread and for fits.
//
// In a file the block holds one block for each part, which holds keys:
//
//	tolerance {
//	  near  { volume = "2 %" }
//	  inner { length = "0.5 mm" }
//	  horn {
//	    section { length = "1 mm" }
//	  }
//	}
//
// A part is meant by its name; air, listen and an unlabelled drive by their
// block's. The nth section or filter block belongs to the part's nth. An amount
// for a list of lengths goes for each of them.
type Tolerance struct {
	Part, Key string   // the key as Design.Set takes it: "length", "coil.k", "section.2.area"
	Amount    Quantity // in the key's dimension, or a ratio if Relative
	Relative  bool
}
