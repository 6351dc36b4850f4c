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

// Along reads the air at both ends of each section of a port or line off all
// unknowns x of the network at a frequency [Hz].
func Along(d *design.DuctModel, values []float64, x []complex128, frequency float64) []Air {
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
	list := make([]Air, 0, 2*len(d.Sections))
	at := 0.0
	for _, s := range d.Sections {
		start := values[s.Area]
		end := start
		if s.ToArea != network.None {
			end = values[s.ToArea]
		}
		if s.From == network.Sealed {
			// The closed end has no node of its own; the lossless straight duct
			// tells its pressure well enough to draw.
			omega := 2 * math.Pi * frequency
			k := omega / s.Air.Speed * values[s.Length]
			z := complex(0, s.Air.Density*s.Air.Speed/start) * complex(0, omega) * x[s.Flow]
			list = append(list, Air{At: at / length, Pressure: pressure(s.To)*complex(math.Cos(k), 0) + z*complex(math.Sin(k), 0)})
		} else {
			list = append(list, Air{at / length, x[s.Entry] / complex(start, 0), pressure(s.From)})
		}
		at += values[s.Length]
		list = append(list, Air{at / length, x[s.Flow] / complex(end, 0), pressure(s.To)})
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
