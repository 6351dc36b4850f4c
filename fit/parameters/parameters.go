// Package parameters finds a driver's Thiele–Small parameters from impedance
// sweeps of the bare driver and of the same driver in a box of known volume or
// with a known mass added, by the classical graphical method and by a fit to the
// whole curves, side by side.
package parameters

import (
	"context"
	"errors"
	"fmt"
	"math"

	"ocarina/air"
	"ocarina/sweep"
)

// Input is what was measured. Sd is needed for everything that has to do with
// force or air; either Volume or Mass goes with Loaded.
type Input struct {
	Free   *sweep.Sweep // in free air
	Loaded *sweep.Sweep // in the box or with the mass; nil for none
	Volume float64      // of the box, net, m³; or
	Mass   float64      // added, kg
	Sd     float64      // m²
	Re     float64      // at direct current, ohm; 0: from the sweep
}

// Set is a driver's parameters, SI. What the sweeps do not tell is 0.
type Set struct {
	Re, Fs, Qms, Qes, Qts float64
	Vas, Mms, Cms         float64 // m³, kg, m/N
	Rms, Bl               float64 // N s/m, T m
	Le                    float64 // H, what the coil's reactance amounts to at 1 kHz
	K, N, Creep           float64 // coil K·(jω)^n, creep λ
}

// Result is both methods' answer.
type Result struct {
	Graphical Set
	Fitted    Set
	Error     Set     // standard errors of Fitted
	Residual  float64 // of the fit, RMS of |Z|, dB
	Warnings  []string
}

// ErrNoResonance says that a sweep shows no resonance to measure.
var ErrNoResonance = errors.New("no resonance peak stands out: wanted a sweep of the bare driver from well below its resonance to well above")

func (r *Result) warn(format string, args ...any) {
	r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...))
}

// Extract works the parameters out. Errors wrap ErrNoResonance or say what is
// wrong with the input.
func Extract(ctx context.Context, in Input) (*Result, error) {
	if !(in.Sd > 0) {
		return nil, errors.New("the piston area Sd must be above nothing")
	}
	if in.Loaded != nil && !(in.Volume > 0) && !(in.Mass > 0) {
		return nil, errors.New("the second sweep needs the volume of its box or the mass added")
	}
	r := &Result{}
	r.Warnings = append(r.Warnings, in.Free.Warnings...)
	free, err := peakOf(in.Free)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", in.Free.Name, err)
	}
	var loaded resonance
	if in.Loaded != nil {
		r.Warnings = append(r.Warnings, in.Loaded.Warnings...)
		if loaded, err = peakOf(in.Loaded); err != nil {
			return nil, fmt.Errorf("%s: %w", in.Loaded.Name, err)
		}
		if in.Volume > 0 && loaded.frequency < free.frequency {
			r.warn("in the box the resonance is lower (%.4g Hz) than in free air (%.4g Hz): are the two sweeps exchanged?", loaded.frequency, free.frequency)
		}
		if in.Mass > 0 && loaded.frequency > free.frequency {
			r.warn("with the mass the resonance is higher (%.4g Hz) than without (%.4g Hz): are the two sweeps exchanged?", loaded.frequency, free.frequency)
		}
	}
	fit, err := fitted(ctx, in, free, loaded)
	if err != nil {
		return nil, err
	}
	r.Fitted, r.Error, r.Residual = fit.set, fit.error, fit.residual
	r.Warnings = append(r.Warnings, fit.warnings...)

	re := in.Re
	if re == 0 {
		re = fit.set.Re
		r.warn("no resistance was given: the graphical method takes the fit's %.4g ohm", re)
	} else if math.Abs(re/fit.set.Re-1) > 0.03 {
		r.warn("the given %.4g ohm is not what the sweep tends to at low frequencies, %.4g ± %.2g ohm: leads, a warm coil, or another meter", re, fit.set.Re, fit.error.Re)
	}
	r.graphical(in, re, free, loaded)
	r.explain(in, free)
	return r, nil
}

// Quality are the Q factors by the classical method.
type Quality struct{ Qms, Qes, Qts float64 }

// Graphical returns the Q factors from a resonance at fs with the height peak
// [ohm], and the two frequencies at which |Z| is re·√(peak/re): Qms = fs√r0/(f2 −
// f1), Qes = Qms/(r0 − 1), r0 = peak/re (Thiele 1971; Small, JAES 20, June 1972,
// appendix).
func Graphical(re, fs, peak, f1, f2 float64) Quality {
	r0 := peak / re
	q := Quality{Qms: fs * math.Sqrt(r0) / (f2 - f1)}
	q.Qes = q.Qms / (r0 - 1)
	q.Qts = q.Qms / r0
	return q
}

// AddedMass returns moving mass [kg] and compliance [m/N] from the resonances
// without and with a mass added [kg] (IEC 60268-5).
func AddedMass(fs, fm, added float64) (mms, cms float64) {
	mms = added / ((fs/fm)*(fs/fm) - 1)
	return mms, 1 / (math.Pow(2*math.Pi*fs, 2) * mms)
}

// KnownVolume returns Vas from the resonances in free air and in a closed box of
// the given volume, by the frequencies alone (Small, JAES 20, December 1972).
func KnownVolume(volume, fs, fc float64) float64 { return volume * ((fc/fs)*(fc/fs) - 1) }

// KnownVolumeQ is KnownVolume in Small's form that a change of the moving mass
// does not disturb.
func KnownVolumeQ(volume, fs, qes, fc, qec float64) float64 {
	return volume * (fc*qec/(fs*qes) - 1)
}

// graphical fills in the classical answer.
func (r *Result) graphical(in Input, re float64, free, loaded resonance) {
	g := &r.Graphical
	g.Re = re
	f1, f2, ok := free.flanks(in.Free, re)
	if !ok {
		r.warn("the graphical method fails: |Z| does not come down to %.3g ohm on both sides of the resonance", re*math.Sqrt(free.height/re))
		return
	}
	q := Graphical(re, free.frequency, free.height, f1, f2)
	g.Fs, g.Qms, g.Qes, g.Qts = free.frequency, q.Qms, q.Qes, q.Qts
	if off := math.Sqrt(f1*f2)/g.Fs - 1; math.Abs(off) > 0.015 {
		r.warn("graphical: √(f1·f2) is %+.1f %% off the resonance: the flanks are not alike, as an inductive coil or too few points make them", 100*off)
	}
	if in.Loaded == nil {
		return
	}
	medium := air.Reference()
	if in.Mass > 0 {
		if loaded.frequency < g.Fs {
			g.Mms, g.Cms = AddedMass(g.Fs, loaded.frequency, in.Mass)
			g.Vas = medium.Stiffness() * g.Cms * in.Sd * in.Sd
		}
	} else {
		g.Vas = KnownVolume(in.Volume, g.Fs, loaded.frequency)
		if c1, c2, ok := loaded.flanks(in.Loaded, re); ok {
			qec := Graphical(re, loaded.frequency, loaded.height, c1, c2).Qes
			plain := g.Vas
			g.Vas = KnownVolumeQ(in.Volume, g.Fs, g.Qes, loaded.frequency, qec)
			if math.Abs(g.Vas/plain-1) > 0.08 {
				r.warn("graphical: Vas is %.4g L by frequencies and Q, %.4g L by frequencies alone: the air load changed the moving mass, or the box leaks", 1000*g.Vas, 1000*plain)
			}
		}
	}
	if g.Vas > 0 {
		g.complete(in.Sd)
	} else {
		g.Vas, g.Mms, g.Cms = 0, 0, 0
	}
}

// complete derives the mechanical values from fs, the Qs, Vas and Re.
func (s *Set) complete(sd float64) {
	omega := 2 * math.Pi * s.Fs
	s.Cms = s.Vas / (air.Reference().Stiffness() * sd * sd)
	s.Mms = 1 / (omega * omega * s.Cms)
	s.Rms = omega * s.Mms / s.Qms
	s.Bl = math.Sqrt(omega * s.Mms * s.Re / s.Qes)
}

// explain says why the two methods differ.
func (r *Result) explain(in Input, free resonance) {
	g, f, e := r.Graphical, r.Fitted, r.Error
	if g.Fs == 0 {
		return
	}
	var off []string
	add := func(name string, a, b, se float64) {
		if a > 0 && b > 0 && math.Abs(a-b) > math.Max(0.03*b, 3*se) {
			off = append(off, fmt.Sprintf("%s %.4g against %.4g", name, a, b))
		}
	}
	add("fs", g.Fs, f.Fs, e.Fs)
	add("qms", g.Qms, f.Qms, e.Qms)
	add("qes", g.Qes, f.Qes, e.Qes)
	add("vas", 1000*g.Vas, 1000*f.Vas, 1000*e.Vas)
	if len(off) == 0 {
		return
	}
	var why []string
	if free.points < 6 {
		why = append(why, fmt.Sprintf("the points are so far apart (%d within the half-power width) that the peak may fall between them, so that its height and flanks are read between them", free.points))
	}
	if in.Re > 0 && math.Abs(in.Re/f.Re-1) > 0.02 {
		why = append(why, fmt.Sprintf("the resistance given is not the one the sweep shows (%.4g ohm)", f.Re))
	}
	if f.Creep > 2*e.Creep && f.Creep > 0.02 {
		why = append(why, fmt.Sprintf("the suspension creeps (λ = %.2g), which the graphical method does not know", f.Creep))
	}
	if reactance := 2 * math.Pi * f.Fs * f.Le; reactance > 0.05*f.Re {
		why = append(why, "the coil's inductance lifts the upper flank")
	}
	if len(why) == 0 {
		why = append(why, "the graphical method uses four readings and the fit all of them; the fit is to be trusted where its residual is small")
	}
	text := ""
	for i, w := range why {
		if i > 0 {
			text += "; "
		}
		text += w
	}
	list := ""
	for i, o := range off {
		if i > 0 {
			list += ", "
		}
		list += o
	}
	r.warn("graphical and fitted values differ (%s): %s", list, text)
}
