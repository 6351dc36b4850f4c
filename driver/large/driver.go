package large

import "math"

// Driver is what changes in a driver at large signals.
type Driver struct {
	ForceFactor Curve   // Bl(x)/Bl(0)
	Stiffness   Curve   // K(x)/K(0), K force over displacement
	Inductance  Curve   // Le(x)/Le(0), flux over current
	OfCurrent   *Curve  // Le(i)/Le(0), or nil
	Stop        float64 // displacement at which something strikes, m; 0: none known
	Thermal     Thermal
}

// stopGrowth is the stiffness of what is struck, in stiffnesses at rest for the
// square of the part of Stop beyond it: a soft first touch that a tenth of the
// way on is twenty times as stiff as the suspension. Assumed.
const stopGrowth = 2000

// Spring returns the suspension's force over its stiffness at rest [m] at a
// displacement, and its derivative: K(x)/K(0)·x, and past Stop what is struck.
func (d *Driver) Spring(x float64) (force, slope float64) {
	k, dk := d.Stiffness.At(x)
	force, slope = k*x, k+dk*x
	if d.Stop > 0 {
		if past := math.Abs(x) - d.Stop; past > 0 {
			g := stopGrowth / (d.Stop * d.Stop) * past * past
			force += math.Copysign(g*past/3, x)
			slope += g
		}
	}
	return force, slope
}

// Flux is the coil's flux over its inductance at rest [A] at a displacement x
// and a current i, Le(x)·Le(i)/Le(0)²·i, with its derivatives.
func (d *Driver) Flux(x, i float64) (flux, perX, perI float64) {
	a, da := d.Inductance.At(x)
	if d.OfCurrent == nil {
		return a * i, da * i, a
	}
	b, db := d.OfCurrent.At(i)
	return a * b * i, da * b * i, a * (b + db*i)
}

// Pull is the force that draws the cone to where its coil's inductance is
// greater, over the inductance at rest [A²/m]: the derivative in x of the field's
// coenergy ∫λ di, with its own derivatives.
func (d *Driver) Pull(x, i float64) (force, perX, perI float64) {
	if d.Inductance.Constant() {
		return 0, 0, 0
	}
	_, da := d.Inductance.At(x)
	h := d.Inductance.bend(x)
	if d.OfCurrent == nil {
		return da * i * i / 2, h * i * i / 2, da * i
	}
	b, _ := d.OfCurrent.At(i)
	m := d.OfCurrent.Moment(i)
	return da * m, h * m, da * b * i
}

// bend is the second derivative, by difference: it steers the solver and is in
// no result.
func (c *Curve) bend(x float64) float64 {
	const h = 1e-6
	_, a := c.At(x - h)
	_, b := c.At(x + h)
	return (b - a) / (2 * h)
}

// Copper's rise of resistance, 0.393 % per kelvin of that at 20 °C (IEC 60028).
const (
	CopperPerKelvin = 0.00393
	CopperReference = 293.15 // K
)

// Thermal is a coil that warms its magnet, which warms the air: thermal
// resistances [K/W] and time constants [s] of both (Button, JAES 40, 1992). The
// zero value stays cold.
type Thermal struct {
	Coil, CoilTime     float64
	Magnet, MagnetTime float64
	Limit              float64 // temperature the coil bears, K
}

// What is taken of a driver of which only the rated power is known: a rise of
// 150 K at that power, three fifths of it between coil and magnet, time
// constants of 12 s and 20 min, and a coil that bears 180 °C. Rules of thumb,
// from memory; drivers differ by a factor of two.
const (
	ratedRise     = 150.0
	coilShare     = 0.6
	ratedCoilTime = 12.0
	ratedMagnet   = 1200.0
	ratedLimit    = 453.15
)

// Rated returns the thermal model taken for a rated power [W].
func Rated(power float64) Thermal {
	if !(power > 0) {
		return Thermal{Limit: ratedLimit}
	}
	z := ratedRise / power
	return Thermal{Coil: coilShare * z, CoilTime: ratedCoilTime, Magnet: (1 - coilShare) * z, MagnetTime: ratedMagnet, Limit: ratedLimit}
}

// Rise returns how much warmer the coil is for each watt turned into heat in it
// since seconds ago, K/W. The magnet is taken to be so slow that the coil's own
// rise adds to it. Times the power at the end it leaves out that a cold coil took
// more: in the first seconds of a hard drive it tells a tenth too little.
func (t Thermal) Rise(seconds float64) float64 {
	part := func(resistance, time float64) float64 {
		if resistance == 0 {
			return 0
		}
		return resistance * -math.Expm1(-seconds/time)
	}
	return part(t.Coil, t.CoilTime) + part(t.Magnet, t.MagnetTime)
}
