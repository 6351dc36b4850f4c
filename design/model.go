package design

import (
	"ocarina/air"
	"ocarina/driver"
	"ocarina/formula"
	"ocarina/network"
)

// Model is the network a design stands for, and what each of its numbers means.
// It is immutable and may be shared between goroutines.
type Model struct {
	Design *Design
	Air    air.Medium
	Graph  *formula.Graph // every number and how it follows from the dimensions
	Plan   *network.Plan

	Dimensions []Dimension
	Mounts     []*MountModel
	Passives   []*PassiveModel
	Ports      []*DuctModel
	Lines      []*DuctModel
	Chambers   []*ChamberModel
	Leaks      []*LeakModel
	Drives     []*DriveModel
	Parts      []Part // everything that holds or loses energy

	Openings []OpeningModel    // who each of Mouths.Openings is
	Listener *network.Listener // nil with nothing at the outside
	Distance formula.Ref       // of the listener, m
	Angle    float64           // solid angle radiated into, sr

	Warnings []string
}

// Dimension is a number of the design that can be changed: a key of a part in
// the file, and the scalar of the graph that holds it.
type Dimension struct {
	Part, Key string
	Index     int // within a list such as size, else 0
	Quantity  Quantity
	Ref       formula.Ref
}

// Group says in which group of a feature's shares a part is counted.
type Group int

const (
	MovingPart Group = iota // a cone or a passive radiator
	DuctPart
	ChamberPart
	LossPart
)

// Part is an element with the name its energy is counted under; several
// elements may share a name.
type Part struct {
	Name     string // "inner"
	LossName string // "cone.suspension"; the name itself for most
	Group    Group
	Element  network.Accountable
}

// ChamberModel is a chamber in the network.
type ChamberModel struct {
	Name     string
	Pressure network.Unknown
	Element  *network.Chamber
	Volume   formula.Ref // net, m³
	Taken    []Taken     // what was taken off a gross volume
	Longest  float64     // its longest side, m
}

// Taken is a body that stands in a chamber.
type Taken struct {
	Part   string
	Volume formula.Ref // m³
}

// DuctModel is a port or a line in the network.
type DuctModel struct {
	Name        string
	Sections    []*network.Duct // from From to To
	Turned      bool            // sections run from To to From
	Count       float64
	Area, Ideal formula.Ref    // at its narrowest, m²; Ideal is its length with end corrections, m (ports)
	Ends        [2]formula.Ref // end corrections, m, or driver.Unknown
	SpeedLimit  float64        // m/s peak
	Rule        bool           // the limit is the rule of thumb, not the design's
	From, To    Place
}

// MountModel is a driver in its place.
type MountModel struct {
	Name        string
	Driver      *Driver
	Motor       driver.Motor
	Diaphragm   *network.Diaphragm
	Coil        *network.Coil
	Count       float64
	Drive       int // index of its drive
	Xmax        float64
	Power       float64 // of each member, W; 0 where not given
	Front, Rear Place
	Area        formula.Ref
}

// PassiveModel is a passive radiator in its place.
type PassiveModel struct {
	Name        string
	Motor       driver.Motor
	Diaphragm   *network.Diaphragm
	Count       float64
	Xmax        float64
	Front, Rear Place
	Area        formula.Ref
}

// LeakModel is a leak in the network.
type LeakModel struct {
	Name    string
	Element *network.Resistance
}

// OpeningModel says whose an opening is.
type OpeningModel struct {
	Part string
	Rear bool // a cone's rear face, or the from end of a port
}

// DriveModel is an amplifier channel: a source in the equation of Supply.Current.
type DriveModel struct {
	Name                   string
	Supply                 *network.Supply
	Voltage                formula.Ref // with gain and polarity, V RMS
	Plain                  formula.Ref // before gain, V RMS: what max_voltage is compared with after gain
	Delay                  formula.Ref // s, or driver.Unknown
	Sections               []Biquad
	Between                bool        // parts between source and mounts
	MaxVoltage, MaxCurrent float64     // 0: no limit
	Resistance             formula.Ref // of the wired drivers at rest, ohm
}

// Find returns the index of a dimension, or −1.
func (m *Model) Find(part, key string, index int) int {
	for i := range m.Dimensions {
		d := &m.Dimensions[i]
		if d.Part == part && d.Key == key && d.Index == index {
			return i
		}
	}
	return -1
}
