// Package network solves electrical, mechanical and acoustic parts as one
// linear system at a frequency, with exact derivatives of whatever is read off
// it.
//
// A Net is a list of unknowns and elements. An unknown is a pressure [Pa], a
// volume displacement [m³], a displacement [m], a voltage [V] or a current
// [A]; each owns one equation (its row): the balance of volume at a pressure
// node, of current at a voltage node, the law of a branch elsewhere. An element
// couples any number of unknowns by the complex numbers it adds to the matrix.
// Volume flows and velocities are carried as displacements, so that every
// coefficient stays finite as the frequency goes to zero and the static
// solution is the solution at zero.
//
// Time dependence is e^{+jωt}; phasors are RMS. A Net compiles to a Plan, which
// is immutable and may be shared; each goroutine solves in a Workspace of its
// own, and solving at a frequency allocates nothing.
//
// Values of elements (areas, lengths, masses) live outside, in one slice of
// float64 handed in with each solve; an element knows their indices. A
// reading's derivative with respect to all of them costs one more substitution
// (the adjoint): with K x = b and a reading J = tᵀx, dJ = −λᵀ dK x, Kᵀλ = t.
package network

import "fmt"

// Unknown is the index of an unknown and of the equation it owns.
type Unknown int32

// Ground is the unknown that is always zero: earth, outside air at rest.
const Ground Unknown = -1

// Value is the index of an element's value in the slice given to a solve.
type Value int32

// None marks a value that an element does without.
const None Value = -1

// Kind is what an unknown stands for.
type Kind uint8

const (
	Pressure           Kind = iota // Pa; its equation balances volume [m³]
	VolumeDisplacement             // m³; its equation balances pressure [Pa]
	Displacement                   // m; its equation balances force [N]
	Voltage                        // V; its equation balances current [A]
	Current                        // A; its equation balances voltage [V]
)

// Place is one entry of the matrix: the coefficient of unknown Column in the
// equation owned by Row. A Ground in either is allowed and ignored.
type Place struct{ Row, Column Unknown }

// Point is where a solve happens.
type Point struct {
	Omega  float64   // rad/s, ≥ 0
	Values []float64 // all values, indexed by Value
}

// Sluggish is that lowest frequency, rad/s. A displacement of air in the static
// solution times jω of it is a mean flow where air can go in a round, and nothing
// elsewhere.
const Sluggish = 1e-9

// sluggish is the frequency that laws of motion are taken at: ω, or at ω = 0 one
// so low that nothing is left of what drops along a way. Of several ways past
// one another each then still carries its share, which zero would leave open.
func (p *Point) sluggish() float64 {
	if p.Omega == 0 {
		return Sluggish
	}
	return p.Omega
}

// Element is one part of a network.
type Element interface {
	// Pattern lists the entries the element adds to, in a fixed order.
	Pattern() []Place

	// Keep is how many complex numbers the element wants to remember from
	// Stamp for Slopes at the same point.
	Keep() int

	// Stamp writes what the element adds to each entry of its pattern.
	Stamp(p *Point, entries, keep []complex128)

	// Slopes adds Σ w[e]·∂entry[e]/∂value to grad[value] for each of its
	// values, and returns Σ w[e]·∂entry[e]/∂ω (not asked for at ω = 0). The
	// weights w follow the pattern; keep is as Stamp left it.
	Slopes(p *Point, keep, w, grad []complex128) (omega complex128)
}

// Net is a network under construction.
type Net struct {
	kinds    []Kind
	names    []string
	last     []int // 1: held, 2: driven
	elements []Element
}

// Unknown adds an unknown. The name is for messages only.
func (n *Net) Unknown(kind Kind, name string) Unknown {
	n.kinds = append(n.kinds, kind)
	n.names = append(n.names, name)
	n.last = append(n.last, 0)
	return Unknown(len(n.kinds) - 1)
}

// Driven adds an unknown whose equation will carry a source. Such unknowns are
// eliminated last, so that a solve has little to substitute.
func (n *Net) Driven(kind Kind, name string) Unknown {
	u := n.Unknown(kind, name)
	n.last[u] = 2
	return u
}

// Held adds an unknown that a source holds: an amplifier's terminal. It is
// eliminated after all but the driven ones; as one among the parts behind it, it
// would be eliminated as if nothing held it, and no digit be left.
func (n *Net) Held(kind Kind, name string) Unknown {
	u := n.Unknown(kind, name)
	n.last[u] = 1
	return u
}

// Add puts an element into the network.
func (n *Net) Add(e Element) { n.elements = append(n.elements, e) }

// SingularError says that the equations have no single solution.
type SingularError struct {
	Unknown string  // one that could not be determined
	Omega   float64 // rad/s
}

func (e *SingularError) Error() string {
	return fmt.Sprintf("the network has no single solution at %.6g Hz: %s is not determined", e.Omega/6.283185307179586, e.Unknown)
}
