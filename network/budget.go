package network

// Budget is what a part holds and loses at a frequency, from RMS phasors:
// energies are averages over a period in joule, losses in watt.
type Budget struct {
	Kinetic   float64 // of moving masses, J
	Potential float64 // of springs and pressed air, J
	Loss      float64 // turned into heat, or radiated, W
}

// Add adds another part's budget.
func (b *Budget) Add(c Budget) {
	b.Kinetic += c.Kinetic
	b.Potential += c.Potential
	b.Loss += c.Loss
}

// Accountable is an element that can say where its energy is. The solution x is
// that of the last Factor at the same point.
type Accountable interface {
	Element
	Budget(p *Point, x []complex128) Budget
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
