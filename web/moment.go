package web

import (
	"math"
	"math/cmplx"
	"strings"

	"ocarina/design"
	"ocarina/response"
)

// Phasor is an amplitude and its phase against the source voltage.
type Phasor struct {
	Size  float64 `json:"size"`
	Phase float64 `json:"phase_deg"`
}

func phasor(z complex128) Phasor { return Phasor{cmplx.Abs(z), response.Degrees(z)} }

// Moment is the whole box at one frequency, for a drawing that moves: every
// number is what predict gives there.
type Moment struct {
	Frequency  float64            `json:"frequency_hz"`
	Reading    string             `json:"reading" doc:"a sentence or two"`
	Drive      string             `json:"drive" doc:"what the drive does there, and what gives way first"`
	Impedance  Phasor             `json:"impedance_ohm"`
	Level      *float64           `json:"level_db" doc:"null with nothing outside"`
	GroupDelay *float64           `json:"group_delay_ms"`
	Chambers   map[string]Phasor  `json:"chambers_pa" doc:"RMS pressure"`
	Cones      map[string]Phasor  `json:"cones_mm" doc:"peak travel of mounts and passives, positive out of the front"`
	Ducts      map[string][]Slice `json:"ducts" doc:"ports and lines from their from end to their to end"`
	Kinetic    map[string]float64 `json:"kinetic_share"`
	Potential  map[string]float64 `json:"potential_share"`
	Changes    []response.Change  `json:"changes" nullable:"false" doc:"what moves the level there most"`
}

// Slice is the air at one place along a duct.
type Slice struct {
	At       float64 `json:"at" doc:"0 at the from end, 1 at the to end"`
	Travel   Phasor  `json:"travel_mm" doc:"peak, positive towards the to end"`
	Speed    Phasor  `json:"speed_m_s" doc:"peak"`
	Pressure Phasor  `json:"pressure_pa" doc:"RMS"`
}

func momentAt(b *response.Bench, r *reading, frequency float64) (*Moment, error) {
	features, err := r.found()
	if err != nil {
		return nil, err
	}
	state, err := b.State(frequency, features)
	if err != nil {
		return nil, err
	}
	model := b.Model
	m := &Moment{
		Frequency: frequency, Reading: state.Reading,
		Impedance: phasor(b.Impedance(0)), Level: state.Level,
		Chambers: map[string]Phasor{}, Cones: map[string]Phasor{}, Ducts: map[string][]Slice{},
		Kinetic: state.Kinetic, Potential: state.Potential,
	}
	if model.Listener != nil {
		delay := b.GroupDelay() * 1e3
		m.GroupDelay = &delay
	}
	for _, c := range model.Chambers {
		m.Chambers[c.Name] = phasor(b.ChamberPressure(c))
	}
	for _, c := range model.Mounts {
		m.Cones[c.Name] = phasor(1e3 * b.Excursion(c.Diaphragm))
	}
	for _, c := range model.Passives {
		m.Cones[c.Name] = phasor(1e3 * b.Excursion(c.Diaphragm))
	}
	for _, d := range model.Ports {
		m.Ducts[d.Name] = airIn(b, d)
	}
	for _, d := range model.Lines {
		m.Ducts[d.Name] = airIn(b, d)
	}
	tone, err := b.Tone(frequency, features)
	if err != nil {
		return nil, err
	}
	m.Changes = tone.Changes
	m.Drive = tone.Reading
	if _, rest, found := strings.Cut(tone.Reading, ": "); found {
		m.Drive = rest
	}
	return m, nil
}

// airIn reads the air along a port or line.
func airIn(b *response.Bench, d *design.DuctModel) []Slice {
	omega := complex(0, 2*math.Pi*b.Frequency())
	air := response.Along(d, b.Values, b.Solution(), b.Frequency(), b.Frequency())
	list := make([]Slice, len(air))
	for i, a := range air {
		travel := complex(math.Sqrt2, 0) * a.Travel
		list[i] = Slice{a.At, phasor(1e3 * travel), phasor(omega * travel), phasor(a.Pressure)}
	}
	return list
}
