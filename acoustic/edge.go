package acoustic

import "math"

// Edge is what fast air loses at the end of a duct, in dynamic pressures
// ½ρu² of the mean speed u in the duct. At audio frequencies the coefficients of
// steady flow are taken at each moment.
type Edge struct {
	In  float64 // where it flows into the duct
	Out float64 // where it leaves as a jet
}

// SharpEdge is a square-cut end in a wall: 0.5 in, 1 out (Idelchik, Handbook of
// Hydraulic Resistance, diagrams 3-1 and 11-1; from memory). A tube standing
// free with a wall of more than a twentieth of its diameter is taken alike.
var SharpEdge = Edge{In: 0.5, Out: 1}

// RoundedEdge is an end in a wall with a rim of a radius in hydraulic diameters:
// 0.03 + 0.47·10^(−7.7·r/D) in, 1 out (Idelchik, diagram 3-3; from memory).
func RoundedEdge(radius float64) Edge {
	return Edge{In: 0.03 + 0.47*math.Pow(10, -7.7*radius), Out: 1}
}

// FlaredEdge is an end that widens by a flare of a radius in hydraulic
// diameters. In it is a rounded one. Out of it, half of the pressure that the
// widening from D to D + 2r could win back is taken as won: an assumption, as no
// measurement was at hand.
func FlaredEdge(radius float64) Edge {
	e := RoundedEdge(radius)
	n := 1 + 2*radius
	n *= n
	e.Out = 1 - 0.5*(1-1/(n*n))
	return e
}
