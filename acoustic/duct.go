package acoustic

import "math"

// Duct is the cross-section of a uniform duct and the air in it.
type Duct struct {
	Density   float64 // ρ [kg/m³]
	Speed     float64 // c, free field [m/s]
	Viscosity float64 // μ [Pa s]
	Gamma     float64 // γ, ratio of specific heats
	Prandtl   float64 // Pr

	Area float64 // S [m²]

	// A round duct gives its Radius a [m], any other section its Perimeter
	// [m] and Radius 0. With both 0 the walls are ideal.
	Radius, Perimeter float64
}

// Immittance is what a duct does to sound, per metre of its length.
type Immittance struct {
	Z complex128 // series impedance Z′ [Pa s/m⁴]
	Y complex128 // shunt admittance Y′ [m²/(Pa s)]
}

// Immittance returns
//
//	Z′ = jωρ/S/(1 − F(k_v a)),  Y′ = jωS/(ρc²)·(1 + (γ−1)·F(k_t a))
//
// at the angular frequency ω ≥ 0 [rad/s]. F is [LossRatio] for a round duct
// and perimeter/(2S)·δ·(1−j), δ = √(2μ/(ρω)) (thermal: δ/√Pr), for another
// section: the boundary layer, which must be thin against the smaller side.
// At ω = 0 a round duct has the Poiseuille resistance 8μ/(a²S), other sections
// the limit of their formula, which is 0.
//
// Source: C. Zwikker & C. W. Kosten, Sound Absorbing Materials (1949);
// M. R. Stinson, J. Acoust. Soc. Am. 89 (1991) 550-558, valid for a > 1e-5 m
// and a·f^1.5 < 1e4 m·s^−1.5.
func (d *Duct) Immittance(omega float64) Immittance {
	m, _, _, _ := d.Derivatives(omega)
	return m
}

// Derivatives returns [Duct.Immittance] with its derivatives with respect to
// the area at fixed radius or perimeter, to the radius or perimeter at fixed
// area (whichever the section gives; 0 for ideal walls), and to ω > 0. For a
// circle that stays one, d/da is byShape + 2πa·byArea.
func (d *Duct) Derivatives(omega float64) (m, byArea, byShape, byOmega Immittance) {
	mass := d.Density / d.Area                         // of a metre, over S²
	spring := d.Area / (d.Density * d.Speed * d.Speed) // volume of a metre, over ρc²
	jw := complex(0, omega)
	if d.Radius == 0 && d.Perimeter == 0 {
		m = Immittance{jw * complex(mass, 0), jw * complex(spring, 0)}
		byArea = Immittance{scale(-1/d.Area, m.Z), scale(1/d.Area, m.Y)}
		byOmega = Immittance{complex(0, mass), complex(0, spring)}
		return m, byArea, byShape, byOmega
	}
	// E = 1−F(viscous), T = F(thermal); and x·d/dx of both, x the scale of
	// the argument: s for a circle, perimeter·δ/(2S) otherwise.
	var E, T, xE, xT complex128
	if a := d.Radius; a > 0 {
		s := a * math.Sqrt(omega*d.Density/d.Viscosity)
		if s < 1e-100 {
			m.Z = complex(8*d.Viscosity/(a*a*d.Area), 0)
			byArea.Z = scale(-1/d.Area, m.Z)
			byShape.Z = scale(-2/a, m.Z)
			byOmega = Immittance{complex(0, 4./3*mass), complex(0, d.Gamma*spring)}
			return m, byArea, byShape, byOmega
		}
		st := s * math.Sqrt(d.Prandtl)
		var dE, dT complex128
		E, dE = LossComplement(s)
		T, dT = LossRatio(st)
		xE, xT = scale(s, dE), scale(st, dT)
	} else {
		if omega == 0 {
			return m, byArea, byShape, byOmega
		}
		x := d.Perimeter / (2 * d.Area) * math.Sqrt(2*d.Viscosity/(d.Density*omega))
		xt := x / math.Sqrt(d.Prandtl)
		E, T = complex(1-x, x), complex(xt, -xt)
		xE, xT = complex(-x, x), T
	}
	inv := reciprocal(E)
	g := d.Gamma - 1
	m = Immittance{
		Z: jw * scale(mass, inv),
		Y: jw * scale(spring, 1+scale(g, T)),
	}
	// x·dZ/dx, x·dY/dx
	xZ := -m.Z * xE * inv
	xY := jw * scale(spring*g, xT)
	byArea = Immittance{scale(-1/d.Area, m.Z), scale(1/d.Area, m.Y)}
	w := 1 / omega
	if d.Radius > 0 { // s ∝ a·√ω
		byShape = Immittance{scale(1/d.Radius, xZ), scale(1/d.Radius, xY)}
		byOmega = Immittance{scale(w, m.Z+xZ/2), scale(w, m.Y+xY/2)}
		return m, byArea, byShape, byOmega
	}
	// x ∝ perimeter/(S·√ω)
	byShape = Immittance{scale(1/d.Perimeter, xZ), scale(1/d.Perimeter, xY)}
	byArea.Z -= scale(1/d.Area, xZ)
	byArea.Y -= scale(1/d.Area, xY)
	byOmega = Immittance{scale(w, m.Z-xZ/2), scale(w, m.Y-xY/2)}
	return m, byArea, byShape, byOmega
}

func scale(k float64, z complex128) complex128 {
	return complex(k*real(z), k*imag(z))
}

// reciprocal is 1/z without the care for overflow that the language's own
// complex division takes, which is several times slower.
func reciprocal(z complex128) complex128 {
	i := 1 / (real(z)*real(z) + imag(z)*imag(z))
	return complex(real(z)*i, -imag(z)*i)
}
