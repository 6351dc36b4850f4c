package response

import (
	"math"

	"ocarina/design"
	"ocarina/network"
)

// Air is the air at one place along a port or line.
type Air struct {
	At       float64    // 0 at the from end, 1 at the to end
	Travel   complex128 // m, RMS, positive towards the to end
	Pressure complex128 // Pa, RMS
}

// A wave is looked at in so many places, and a section in no more than mostPlaces.
const (
	perWave    = 12
	mostPlaces = 32
)

// Along reads the air of a port or line off all unknowns x of the network at a
// frequency [Hz]: at both ends of each section, and between them closely enough to
// see the waves of another frequency, finest.
func Along(d *design.DuctModel, values []float64, x []complex128, frequency, finest float64) []Air {
	length := 0.0
	for _, s := range d.Sections {
		length += values[s.Length]
	}
	pressure := func(u network.Unknown) complex128 {
		if u < 0 {
			return 0
		}
		return x[u]
	}
	point := &network.Point{Omega: 2 * math.Pi * frequency, Values: values}
	list := make([]Air, 0, 2*len(d.Sections))
	at := 0.0
	for _, s := range d.Sections {
		inside := func(t float64) {
			p, u := s.Inside(point, x, t)
			list = append(list, Air{at + t*values[s.Length]/length, u / complex(s.AreaAt(point, t), 0), p})
		}
		if s.From == network.Sealed {
			p, _ := s.Inside(point, x, 0)
			list = append(list, Air{At: at, Pressure: p})
		} else {
			list = append(list, Air{at, x[s.Entry] / complex(s.AreaAt(point, 0), 0), pressure(s.From)})
		}
		steps := 1 + int(math.Min(perWave*values[s.Length]*finest/s.Air.Speed, mostPlaces-1))
		for i := 1; i < steps; i++ {
			inside(float64(i) / float64(steps))
		}
		at += values[s.Length] / length
		list = append(list, Air{at, x[s.Flow] / complex(s.AreaAt(point, 1), 0), pressure(s.To)})
	}
	if d.Turned {
		turned := make([]Air, len(list))
		for i, s := range list {
			turned[len(list)-1-i] = Air{1 - s.At, -s.Travel, s.Pressure}
		}
		return turned
	}
	return list
}
