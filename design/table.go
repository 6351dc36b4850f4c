package design

import (
	"ocarina/quantity"

	"github.com/hashicorp/hcl/v2"
)

// blockKinds is the one description of the design file: reader, writer, scaling
// and messages follow it. Keys are in the order they are written.
var blockKinds = map[string]*blockKind{}

func init() {
	file := &blockKind{name: "", doc: "one enclosure", keys: topKeys}
	file.with(
		airKind, driverKind, chamberKind, portKind, lineKind, junctionKind,
		mountKind, passiveKind, leakKind, driveKind, listenKind, toleranceKind,
	)
	var enter func(k *blockKind)
	enter = func(k *blockKind) {
		blockKinds[k.name] = k
		for _, inner := range k.inner {
			enter(inner)
		}
	}
	enter(file)
}

var topKeys = []spec{
	words("title", func(d *Design) *string { return &d.Title }, "name of the enclosure"),
	words("author", func(d *Design) *string { return &d.Author }, "who drew it"),
	words("notes", func(d *Design) *string { return &d.Notes }, "anything worth knowing"),
	measures("tones", -1, quantity.Frequency, func(d *Design) *[]Quantity { return &d.Tones },
		"trial tones").within(MinFrequency, MaxFrequency),
}

var airKind = single("air", "the medium; what is left out follows from the rest",
	func(d *Design) *Air { return &d.Air },
	measure("temperature", quantity.Temperature, func(a *Air) *Quantity { return &a.Temperature }, "20 C unless given"),
	measure("pressure", quantity.Pressure, func(a *Air) *Quantity { return &a.Pressure }, "static pressure, 101.325 kPa unless given"),
	measure("humidity", quantity.Ratio, func(a *Air) *Quantity { return &a.Humidity }, "relative humidity, 50 % unless given"),
	measure("density", quantity.Density, func(a *Air) *Quantity { return &a.Density }, "outright"),
	measure("speed", quantity.Speed, func(a *Air) *Quantity { return &a.Speed }, "of sound, outright"),
	measure("viscosity", quantity.Viscosity, func(a *Air) *Quantity { return &a.Viscosity }, "outright"),
	number("gamma", 1, 2, func(a *Air) *Quantity { return &a.Gamma }, "ratio of specific heats, outright"),
	number("prandtl", 0.01, 100, func(a *Air) *Quantity { return &a.Prandtl }, "Prandtl number, outright"),
)

var driverKind = several("driver", labelNeeded, "an electrodynamic driver's data sheet",
	func(d *Design) *[]*Driver { return &d.Drivers },
	words("file", func(d *Driver) *string { return &d.File }, "a design file beside this one to read the driver from, in place of all other keys"),
	measure("re", quantity.Resistance, func(d *Driver) *Quantity { return &d.Re }, "direct-current resistance of the coil at 20 C"),
	measure("le", quantity.Inductance, func(d *Driver) *Quantity { return &d.Le }, "inductance of the coil").within(0, 10),
	measure("sd", quantity.Area, func(d *Driver) *Quantity { return &d.Sd }, "effective area of the cone"),
	measure("fs", quantity.Frequency, func(d *Driver) *Quantity { return &d.Fs }, "resonance in free air").within(0.1, 20e3),
	number("qms", 1e-3, 1e4, func(d *Driver) *Quantity { return &d.Qms }, "mechanical Q"),
	number("qes", 1e-3, 1e4, func(d *Driver) *Quantity { return &d.Qes }, "electrical Q"),
	number("qts", 1e-3, 1e4, func(d *Driver) *Quantity { return &d.Qts }, "total Q"),
	measure("vas", quantity.Volume, func(d *Driver) *Quantity { return &d.Vas }, "volume of air as stiff as the suspension"),
	measure("mms", quantity.Mass, func(d *Driver) *Quantity { return &d.Mms }, "moving mass with its air in free air"),
	measure("mmd", quantity.Mass, func(d *Driver) *Quantity { return &d.Mmd }, "moving mass without air"),
	measure("cms", quantity.Compliance, func(d *Driver) *Quantity { return &d.Cms }, "compliance of the suspension"),
	measure("rms", quantity.MechanicalResistance, func(d *Driver) *Quantity { return &d.Rms }, "mechanical resistance"),
	measure("bl", quantity.ForceFactor, func(d *Driver) *Quantity { return &d.Bl }, "force factor"),
	measure("xmax", quantity.Length, func(d *Driver) *Quantity { return &d.Xmax }, "linear excursion, peak, one way"),
	measure("xmech", quantity.Length, func(d *Driver) *Quantity { return &d.Xmech }, "excursion at which something strikes, peak, one way").unscaled(),
	measure("power", quantity.Power, func(d *Driver) *Quantity { return &d.Power }, "what the coil bears").unscaled(),
	measure("displacement", quantity.Volume, func(d *Driver) *Quantity { return &d.Displacement }, "volume its body takes from a gross chamber"),
	measure("creep", quantity.Ratio, func(d *Driver) *Quantity { return &d.Creep }, "growth of the compliance towards low frequencies, for each decade").within(0, 0.5),
).with(optional("coil", "a coil that is no plain inductance",
	func(d *Driver) **Coil { return &d.Coil },
	number("k", 1e-9, 1e4, func(c *Coil) *Quantity { return &c.K }, "K of K·(jω)^n, in ohm·(rad/s)^-n"),
	number("n", 0.01, 1, func(c *Coil) *Quantity { return &c.N }, "n of K·(jω)^n"),
	measure("le", quantity.Inductance, func(c *Coil) *Quantity { return &c.Le }, "inductance in series with R2 beside L2").within(0, 10),
	measure("l2", quantity.Inductance, func(c *Coil) *Quantity { return &c.L2 }, "inductance beside R2"),
	measure("r2", quantity.Resistance, func(c *Coil) *Quantity { return &c.R2 }, "resistance beside L2"),
), largeKind)

var largeKind = optional("large", "how the driver changes with displacement (positive out of the front), current and heat",
	func(d *Driver) **Large { return &d.Large },
	choice("xmax_by", always[Large](XmaxByBoth), func(l *Large) *XmaxBy { return &l.XmaxBy }, "what has fallen at xmax: bl to 82 %, cms to 75 %, or both, for curves not given; both unless given",
		word[XmaxBy]{"both", XmaxByBoth}, word[XmaxBy]{"bl", XmaxByBl}, word[XmaxBy]{"cms", XmaxByCms}),
	measure("bl_offset", quantity.Length, func(l *Large) *Quantity { return &l.BlOffset }, "displacement at which bl is highest, where its curve is not given").within(-1, 1),
	measure("cms_asymmetry", quantity.Ratio, func(l *Large) *Quantity { return &l.CmsAsymmetry }, "by how much the suspension is stiffer outward than inward at xmax, half their difference to their mean, where its curve is not given").within(-0.3, 0.3),
	measures("x", -1, quantity.Length, func(l *Large) *[]Quantity { return &l.X }, "displacements of the tables, ascending").within(-1, 1),
	measures("bl", -1, quantity.ForceFactor, func(l *Large) *[]Quantity { return &l.Bl }, "force factor at each x"),
	measures("cms", -1, quantity.Compliance, func(l *Large) *[]Quantity { return &l.Cms }, "compliance at each x, force over displacement"),
	measures("le", -1, quantity.Inductance, func(l *Large) *[]Quantity { return &l.Le }, "inductance at each x"),
	measures("i", -1, quantity.Current, func(l *Large) *[]Quantity { return &l.I }, "currents, ascending").within(-1e4, 1e4),
	measures("le_at_i", -1, quantity.Inductance, func(l *Large) *[]Quantity { return &l.LeAtI }, "inductance at each current, flux over current"),
	numbers("bl_shape", -100, 100, func(l *Large) *[]Quantity { return &l.BlShape }, "bl over bl at rest is 1 + this, of x/xmax, its square and so on, in place of a table"),
	numbers("kms_shape", -100, 100, func(l *Large) *[]Quantity { return &l.KmsShape }, "stiffness over that at rest, likewise"),
	numbers("le_shape", -100, 100, func(l *Large) *[]Quantity { return &l.LeShape }, "inductance over that at rest, likewise"),
	number("coil_thermal", 1e-4, 1e3, func(l *Large) *Quantity { return &l.CoilThermal }, "thermal resistance from coil to magnet, K/W").unscaled(),
	number("magnet_thermal", 1e-4, 1e3, func(l *Large) *Quantity { return &l.MagnetThermal }, "thermal resistance from magnet to air, K/W").unscaled(),
	measure("coil_time", quantity.Time, func(l *Large) *Quantity { return &l.CoilTime }, "time constant of the coil").within(0.01, 1e4).in("s").unscaled(),
	measure("magnet_time", quantity.Time, func(l *Large) *Quantity { return &l.MagnetTime }, "time constant of the magnet").within(0.1, 1e6).in("s").unscaled(),
	measure("coil_limit", quantity.Temperature, func(l *Large) *Quantity { return &l.CoilLimit }, "temperature the coil bears").within(303.15, 873.15).unscaled(),
)

var chamberKind = several("chamber", labelNeeded, "a space with one pressure",
	func(d *Design) *[]*Chamber { return &d.Chambers },
	measure("volume", quantity.Volume, func(c *Chamber) *Quantity { return &c.Volume }, "net unless gross is set"),
	measures("size", 3, quantity.Length, func(c *Chamber) *[]Quantity { return &c.Size }, "inner lengths, in place of volume"),
	toggle("gross", func(c *Chamber) *bool { return &c.Gross }, "take port bodies, drivers and bracing off the volume"),
	measure("bracing", quantity.Volume, func(c *Chamber) *Quantity { return &c.Bracing }, "volume of braces in a gross chamber").within(0, 1e4),
	measure("fill", quantity.Ratio, func(c *Chamber) *Quantity { return &c.Fill }, "share of the volume that is filled"),
	measure("flow_resistivity", quantity.FlowResistivity, func(c *Chamber) *Quantity { return &c.FlowResistivity }, "of the fill"),
	number("leak_q", 1e-3, 1e9, func(c *Chamber) *Quantity { return &c.LeakQ }, "Q of the chamber with its leaks, at leak_at"),
	measure("leak_at", quantity.Frequency, func(c *Chamber) *Quantity { return &c.LeakAt }, "frequency leak_q holds at"),
	wallsKey(func(c *Chamber) *Walls { return &c.Walls }, "ideal unless given"),
	measure("temperature", quantity.Temperature, func(c *Chamber) *Quantity { return &c.Temperature }, "of its air, where not that of the rest").within(223.15, 523.15),
)

var portKind = several("port", labelNeeded, "one or more equal uniform ducts",
	func(d *Design) *[]*Port { return &d.Ports },
	place("from", func(p *Port) *Place { return &p.From }, "where it begins", anyPlace...).required(),
	place("to", func(p *Port) *Place { return &p.To }, "where it ends", anyPlace...).required(),
	measure("diameter", quantity.Length, func(p *Port) *Quantity { return &p.Diameter }, "of a round one"),
	measures("size", 2, quantity.Length, func(p *Port) *[]Quantity { return &p.Size }, "of a rectangular one; a slot's first side lies on the wall"),
	measure("area", quantity.Area, func(p *Port) *Quantity { return &p.Area }, "of a round one"),
	measure("length", quantity.Length, func(p *Port) *Quantity { return &p.Length }, "along the centre line").required(),
	number("count", 1, 100, func(p *Port) *Quantity { return &p.Count }, "how many side by side").whole(),
	pair("ends", func(p *Port) (*[2]End, *hcl.Range) { return &p.Ends, &p.EndsRange }, "shape of the from and to ends, flush unless given",
		"flush", "free", "slot", "none"),
	pair("edges", func(p *Port) (*[2]Edge, *hcl.Range) { return &p.Edges, &p.EdgesRange }, "rims of the from and to ends, sharp unless given",
		"sharp", "rounded", "flared"),
	measure("edge_radius", quantity.Length, func(p *Port) *Quantity { return &p.EdgeRadius }, "of rounded and flared rims").within(0, 10),
	measure("wall", quantity.Area, func(p *Port) *Quantity { return &p.Wall }, "area of the chamber wall a flush end sits in"),
	measures("end_correction", 2, quantity.Length, func(p *Port) *[]Quantity { return &p.EndCorrection }, "added length at the from and to ends, in place of the computed").within(0, 100),
	measure("resistance", quantity.AcousticResistance, func(p *Port) *Quantity { return &p.Resistance }, "of cloth or mesh in each").within(0, 1e15),
	measure("speed_limit", quantity.Speed, func(p *Port) *Quantity { return &p.SpeedLimit }, "air speed not to exceed, peak").within(0.01, 1000),
	measures("inside", 2, quantity.Length, func(p *Port) *[]Quantity { return &p.Inside }, "length of the body inside gross chambers at the from and to ends; alone, at the only end in a chamber or else the from end").within(0, 100).alone(),
	measure("wall_thickness", quantity.Length, func(p *Port) *Quantity { return &p.WallThickness }, "of the body, for the volume it takes from a gross chamber").within(0, 10),
	wallsKey(func(p *Port) *Walls { return &p.Walls }, "real unless given"),
	positionKey(func(p *Port) *[]Quantity { return &p.Position }),
)

var lineKind = several("line", labelNeeded, "a chain of sections: a transmission line or a horn",
	func(d *Design) *[]*Line { return &d.Lines },
	place("from", func(l *Line) *Place { return &l.From }, "where it begins", lineEnd...).required(),
	place("to", func(l *Line) *Place { return &l.To }, "where it ends", lineEnd...).required(),
	measure("fill", quantity.Ratio, func(l *Line) *Quantity { return &l.Fill }, "share of the volume that is filled"),
	measure("flow_resistivity", quantity.FlowResistivity, func(l *Line) *Quantity { return &l.FlowResistivity }, "of the fill"),
	measure("speed_limit", quantity.Speed, func(l *Line) *Quantity { return &l.SpeedLimit }, "air speed not to exceed, peak").within(0.01, 1000),
	wallsKey(func(l *Line) *Walls { return &l.Walls }, "real unless given"),
	positionKey(func(l *Line) *[]Quantity { return &l.Position }),
).with(several("section", labelNone, "one piece of a line",
	func(l *Line) *[]*Section { return &l.Sections },
	measure("length", quantity.Length, func(s *Section) *Quantity { return &s.Length }, "along the centre line").required(),
	measure("area", quantity.Area, func(s *Section) *Quantity { return &s.Area }, "at its from end, round"),
	measure("diameter", quantity.Length, func(s *Section) *Quantity { return &s.Diameter }, "at its from end, round"),
	measures("size", 2, quantity.Length, func(s *Section) *[]Quantity { return &s.Size }, "at its from end, rectangular"),
	measure("to_area", quantity.Area, func(s *Section) *Quantity { return &s.ToArea }, "at its to end, where it is not straight"),
	choice("shape", standardShape, func(s *Section) *Shape { return &s.Shape }, "conical where to_area is given, else straight",
		word[Shape]{"straight", Straight}, word[Shape]{"conical", Conical}, word[Shape]{"exponential", Exponential}),
))

var junctionKind = several("junction", labelNeeded, "a point where lines, ports and mounts meet",
	func(d *Design) *[]*Junction { return &d.Junctions })

var mountKind = several("mount", labelNeeded, "one driver, or several equal ones, between two places",
	func(d *Design) *[]*Mount { return &d.Mounts },
	reference("driver", "driver", func(m *Mount) (*string, *hcl.Range) { return &m.Driver, &m.DriverRange }, "which driver").required(),
	place("front", func(m *Mount) *Place { return &m.Front }, "what the cone's front opens to", anyPlace...).required(),
	place("rear", func(m *Mount) *Place { return &m.Rear }, "what the cone's rear opens to", anyPlace...).required(),
	number("count", 1, 100, func(m *Mount) *Quantity { return &m.Count }, "how many").whole(),
	wiringKey(func(m *Mount) *Wiring { return &m.Wiring }, "of its members"),
	toggle("reversed", func(m *Mount) *bool { return &m.Reversed }, "terminals swapped"),
	reference("drive", "drive", func(m *Mount) (*string, *hcl.Range) { return &m.Drive, &m.DriveRange }, "which drive, where there are several"),
	positionKey(func(m *Mount) *[]Quantity { return &m.Position }),
)

var passiveKind = several("passive", labelNeeded, "a passive radiator",
	func(d *Design) *[]*Passive { return &d.Passives },
	measure("sd", quantity.Area, func(p *Passive) *Quantity { return &p.Sd }, "effective area").required(),
	measure("mms", quantity.Mass, func(p *Passive) *Quantity { return &p.Mms }, "moving mass with its air in free air"),
	measure("cms", quantity.Compliance, func(p *Passive) *Quantity { return &p.Cms }, "compliance of the suspension"),
	measure("rms", quantity.MechanicalResistance, func(p *Passive) *Quantity { return &p.Rms }, "mechanical resistance"),
	measure("fs", quantity.Frequency, func(p *Passive) *Quantity { return &p.Fs }, "resonance in free air").within(0.1, 20e3),
	number("qms", 1e-3, 1e4, func(p *Passive) *Quantity { return &p.Qms }, "mechanical Q"),
	measure("vas", quantity.Volume, func(p *Passive) *Quantity { return &p.Vas }, "volume of air as stiff as the suspension"),
	measure("xmax", quantity.Length, func(p *Passive) *Quantity { return &p.Xmax }, "linear excursion, peak, one way"),
	number("count", 1, 100, func(p *Passive) *Quantity { return &p.Count }, "how many").whole(),
	place("front", func(p *Passive) *Place { return &p.Front }, "what its front opens to", anyPlace...).required(),
	place("rear", func(p *Passive) *Place { return &p.Rear }, "what its rear opens to", anyPlace...).required(),
	positionKey(func(p *Passive) *[]Quantity { return &p.Position }),
)

var leakKind = several("leak", labelNeeded, "an acoustic resistance between a chamber and a chamber or the outside",
	func(d *Design) *[]*Leak { return &d.Leaks },
	place("from", func(l *Leak) *Place { return &l.From }, "where it begins", anyPlace...).required(),
	place("to", func(l *Leak) *Place { return &l.To }, "where it ends", anyPlace...).required(),
	measure("resistance", quantity.AcousticResistance, func(l *Leak) *Quantity { return &l.Resistance }, "acoustic resistance").required(),
	toggle("radiates", func(l *Leak) *bool { return &l.Radiates }, "reaches the listener"),
)

var driveKind = several("drive", labelOptional, "an amplifier channel; 2.83 V where there is none",
	func(d *Design) *[]*Drive { return &d.Drives },
	measure("voltage", quantity.Voltage, func(d *Drive) *Quantity { return &d.Voltage }, "RMS, 2.83 V unless given"),
	measure("power", quantity.Power, func(d *Drive) *Quantity { return &d.Power }, "into the coils' resistance, in place of voltage"),
	measure("source_resistance", quantity.Resistance, func(d *Drive) *Quantity { return &d.SourceResistance }, "of amplifier and cable").within(0, 1e6),
	wiringKey(func(d *Drive) *Wiring { return &d.Wiring }, "of its mounts"),
	number("gain", -200, 200, func(d *Drive) *Quantity { return &d.Gain }, "in dB"),
	measure("delay", quantity.Time, func(d *Drive) *Quantity { return &d.Delay }, "of its signal"),
	toggle("reversed", func(d *Drive) *bool { return &d.Reversed }, "polarity swapped"),
	measure("coil_temperature", quantity.Temperature, func(d *Drive) *Quantity { return &d.CoilTemperature }, "of its drivers' coils, 20 C unless given").within(223.15, 673.15),
	measure("max_voltage", quantity.Voltage, func(d *Drive) *Quantity { return &d.MaxVoltage }, "the amplifier's limit, RMS"),
	measure("max_current", quantity.Current, func(d *Drive) *Quantity { return &d.MaxCurrent }, "the amplifier's limit, RMS"),
).with(several("filter", labelNone, "one filter ahead of the amplifier, or parts between amplifier and mounts",
	func(d *Drive) *[]*Filter { return &d.Filters },
	choice("kind", always[Filter](FilterKind(-1)), func(f *Filter) *FilterKind { return &f.Kind }, "what it does",
		word[FilterKind]{"high-pass", HighPass}, word[FilterKind]{"low-pass", LowPass},
		word[FilterKind]{"low-shelf", LowShelf}, word[FilterKind]{"high-shelf", HighShelf}, word[FilterKind]{"bell", Bell},
		word[FilterKind]{"series", SeriesParts}, word[FilterKind]{"shunt", ShuntParts}).required(),
	measure("frequency", quantity.Frequency, func(f *Filter) *Quantity { return &f.Frequency }, "corner or centre"),
	number("q", 1e-3, 1e3, func(f *Filter) *Quantity { return &f.Q }, "of a shelf, a bell, or a pass of order 2"),
	number("order", 1, 8, func(f *Filter) *Quantity { return &f.Order }, "of a pass").whole(),
	number("gain", -200, 200, func(f *Filter) *Quantity { return &f.Gain }, "of a shelf or bell, in dB"),
	measure("resistance", quantity.Resistance, func(f *Filter) *Quantity { return &f.Resistance }, "of series or shunt parts, in series with one another").within(0, 1e6),
	measure("inductance", quantity.Inductance, func(f *Filter) *Quantity { return &f.Inductance }, "of series or shunt parts, in series with one another"),
	measure("capacitance", quantity.Capacitance, func(f *Filter) *Quantity { return &f.Capacitance }, "of series or shunt parts, in series with one another"),
))

var listenKind = single("listen", "where the level is read and what the openings see",
	func(d *Design) *Listen { return &d.Listen },
	measure("distance", quantity.Length, func(l *Listen) *Quantity { return &l.Distance }, "1 m unless given").within(1e-4, 1e4).in("m"),
	positionKey(func(l *Listen) *[]Quantity { return &l.Position }).in("m"),
	choice("space", always[Listen](HalfSpace), func(l *Listen) *Space { return &l.Space }, "what the box radiates into, half unless given",
		word[Space]{"full", FullSpace}, word[Space]{"half", HalfSpace}, word[Space]{"quarter", QuarterSpace}, word[Space]{"eighth", EighthSpace}),
	choice("radiation", always[Listen](true), func(l *Listen) *bool { return &l.Radiation }, "whether openings see the outside's impedance, on unless given",
		word[bool]{"on", true}, word[bool]{"none", false}),
)

// toleranceKind holds blocks named by the user, see Tolerance; it is read and
// written apart.
var toleranceKind = &blockKind{
	name: "tolerance", doc: "how far values may be off, by part and key", free: true,
	list: func(any) []any { return nil },
}

var (
	anyPlace = []string{"chamber", "junction", "outside"}
	lineEnd  = []string{"chamber", "junction", "outside", "closed"}
)

func wallsKey[T any](at func(*T) *Walls, doc string) spec {
	return choice("walls", always[T](WallsDefault), at, "whether walls take heat and friction from the air; "+doc,
		word[Walls]{"real", WallsReal}, word[Walls]{"ideal", WallsIdeal})
}

func wiringKey[T any](at func(*T) *Wiring, doc string) spec {
	return choice("wiring", always[T](Parallel), at, doc+", parallel unless given",
		word[Wiring]{"parallel", Parallel}, word[Wiring]{"series", Series})
}

func positionKey[T any](at func(*T) *[]Quantity) spec {
	return measures("position", 3, quantity.Length, at, "x, y and z").within(-1e4, 1e4)
}

func standardShape(s *Section) Shape {
	if s.ToArea.Given {
		return Conical
	}
	return Straight
}
