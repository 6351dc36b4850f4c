package parameters

import (
	"math"
	"math/cmplx"
)

// The parameters of the full fit.
const (
	pRe = iota
	pFs
	pQms
	pQes
	pCoil  // |K·(jω)^n| at the coil's reference, ohm
	pN     // n
	pCreep // λ
	pLoad  // Vas over the box's volume, or added over moving mass
	pLoss  // what the box adds to 1/Qms at fs
	pWarm  // Re at the second sweep over that at the first
	count
)

// model is the impedance of a driver
//
//	Z = Re·τ + c·(jω/ω0)^n + (Re/Qes)/A,  s = jf/fs,
//	A = 1/Qms − e/(1+e²) + s·(1+μ) + 1/(s·κ) + α/s + β,
//	κ = 1 − λ·log10(s),  e = λ·(π/2)/ln 10
//
// with α of the box's air and β of its loss, or μ of the added mass, and τ where
// loaded (suspension with creep: Knudsen & Jensen, JAES 41, 1993; coil: Leach, JAES
// 50, 2002).
type model struct {
	reference float64 // ω0, rad/s
	mass      bool
}

// at returns the impedance at a frequency [Hz] and, unless slopes is nil, its
// derivatives.
func (m *model) at(x []float64, f float64, loaded bool, slopes []complex128) complex128 {
	const c = math.Pi / 2 / math.Ln10
	s := complex(0, f/x[pFs])
	log := complex(math.Log10(f/x[pFs]), c)
	creep := 1 - complex(x[pCreep], 0)*log
	e := x[pCreep] * c
	load, loss, warm := 0.0, 0.0, 1.0
	if loaded {
		load, loss, warm = x[pLoad], x[pLoss], x[pWarm]
	}
	heavier, stiffer := complex(1, 0), complex(load, 0)
	if m.mass {
		heavier, stiffer = complex(1+load, 0), 0
	}
	a := complex(1/x[pQms]-e/(1+e*e)+loss, 0) + s*heavier + 1/(s*creep) + stiffer/s
	w := complex(0, 2*math.Pi*f/m.reference)
	coil := cmplx.Pow(w, complex(x[pN], 0))
	motion := complex(x[pRe]/x[pQes], 0) / a
	z := complex(x[pRe]*warm, 0) + complex(x[pCoil], 0)*coil + motion
	if slopes == nil {
		return z
	}
	da := -motion / a
	slopes[pRe] = complex(warm, 0) + motion/complex(x[pRe], 0)
	slopes[pFs] = da * (-s/complex(x[pFs], 0)*(heavier-(1/creep+stiffer)/(s*s)) - complex(x[pCreep]/(x[pFs]*math.Ln10), 0)/(creep*creep*s))
	slopes[pQms] = da * complex(-1/(x[pQms]*x[pQms]), 0)
	slopes[pQes] = -motion / complex(x[pQes], 0)
	slopes[pCoil] = coil
	slopes[pN] = complex(x[pCoil], 0) * coil * cmplx.Log(w)
	slopes[pCreep] = da * (log/(creep*creep*s) - complex(c*(1-e*e)/((1+e*e)*(1+e*e)), 0))
	slopes[pLoad], slopes[pLoss], slopes[pWarm] = 0, 0, 0
	if loaded {
		slopes[pLoad] = da / s
		if m.mass {
			slopes[pLoad] = da * s
		}
		slopes[pLoss] = da
		slopes[pWarm] = complex(x[pRe], 0)
	}
	return z
}
