package network

import (
	"fmt"
	"math"
	"sort"
)

// Table is an element of any number of ends given by measured or computed
// numbers against frequency: an admittance matrix. For pressures it is volume
// velocity per pressure [m³/(Pa s)], for voltages current per voltage [S]; flow
// counts positive into the element. Between rows it is interpolated evenly in
// log frequency; beyond them the nearest row holds.
type Table struct {
	Ends      []Unknown
	Acoustic  bool // ends are pressures: the balance is of volume, not flow
	omega     []float64
	admission [][]complex128 // rows of len(Ends)² numbers, row-major
}

// NewTable returns an element for the given ends. Frequencies [Hz] ascend; each
// row is a row-major matrix of len(ends)² finite numbers.
func NewTable(ends []Unknown, acoustic bool, frequency []float64, admittance [][]complex128) (*Table, error) {
	if len(frequency) == 0 || len(frequency) != len(admittance) {
		return nil, fmt.Errorf("a table needs one row for each of its %d frequencies, found %d", len(frequency), len(admittance))
	}
	t := &Table{Ends: ends, Acoustic: acoustic, admission: admittance}
	for i, f := range frequency {
		if !(f > 0) || math.IsInf(f, 0) || i > 0 && f <= frequency[i-1] {
			return nil, fmt.Errorf("row %d of a table: frequencies must be positive and ascend, found %g Hz", i+1, f)
		}
		if len(admittance[i]) != len(ends)*len(ends) || !Finite(admittance[i]) {
			return nil, fmt.Errorf("row %d of a table: %d finite numbers wanted", i+1, len(ends)*len(ends))
		}
		t.omega = append(t.omega, 2*math.Pi*f)
	}
	return t, nil
}

// Pattern implements Element.
func (t *Table) Pattern() (places []Place) {
	for _, r := range t.Ends {
		for _, c := range t.Ends {
			places = append(places, Place{r, c})
		}
	}
	return places
}

// Keep implements Element.
func (t *Table) Keep() int { return 0 }

// between returns the row below ω, how far ω is towards the next, and the
// slope of that in ω.
func (t *Table) between(omega float64) (i int, part, slope float64) {
	n := len(t.omega)
	i = sort.SearchFloat64s(t.omega, omega)
	switch {
	case i == 0:
		return 0, 0, 0
	case i == n:
		return n - 1, 0, 0
	}
	span := math.Log(t.omega[i] / t.omega[i-1])
	return i - 1, math.Log(omega/t.omega[i-1]) / span, 1 / (omega * span)
}

// Stamp implements Element. At ω = 0 an acoustic table is taken as sealed: the
// balance of volume needs its compliance, which a row at zero does not give.
func (t *Table) Stamp(p *Point, e, _ []complex128) {
	i, part, _ := t.between(p.Omega)
	for j := range e {
		e[j] = t.admission[i][j]
		if part > 0 {
			e[j] += complex(part, 0) * (t.admission[i+1][j] - t.admission[i][j])
		}
		if t.Acoustic {
			if p.Omega == 0 {
				e[j] = 0
				continue
			}
			e[j] /= complex(0, p.Omega)
		}
	}
}

// Slopes implements Element.
func (t *Table) Slopes(p *Point, _, w, _ []complex128) (omega complex128) {
	i, part, slope := t.between(p.Omega)
	for j := range w {
		y := t.admission[i][j]
		var rise complex128
		if slope > 0 {
			rise = t.admission[i+1][j] - y
			y += complex(part, 0) * rise
		}
		d := rise * complex(slope, 0)
		if t.Acoustic {
			d = d/complex(0, p.Omega) - y/complex(0, p.Omega*p.Omega)
		}
		omega += w[j] * d
	}
	return omega
}
