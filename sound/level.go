// Package sound knows decibels of sound pressure and the frequency weightings
// of sound level meters.
//
// Pressures are RMS in pascals, levels are in dB re 20 µPa (ISO 1683:2015).
package sound

import "math"

// Reference is the pressure of 0 dB, in pascals (ISO 1683:2015).
const Reference = 20e-6

// Silent is the level that stands for no sound at all, so that no level is
// infinite.
const Silent = -200.0

// Level is the level in dB re 20 µPa of an RMS pressure p in pascals. A
// pressure of zero or below the reach of the scale is Silent.
func Level(p float64) float64 {
	if l := 20 * math.Log10(math.Abs(p)/Reference); l > Silent {
		return l
	}
	return Silent
}

// Pressure is the RMS pressure in pascals of a level in dB re 20 µPa.
func Pressure(level float64) float64 {
	return Reference * math.Pow(10, level/20)
}

// Sum is the level of several sounds together that have nothing to do with
// each other: their energies add. No sounds are Silent.
func Sum(levels ...float64) float64 {
	return ofEnergy(energy(levels))
}

// SumInPhase is the level of several sounds of one frequency and one phase:
// their pressures add.
func SumInPhase(levels ...float64) float64 {
	var p float64
	for _, l := range levels {
		p += math.Pow(10, l/20)
	}
	return ofEnergy(p * p)
}

// Without is the level that remains of total when the energy of a part is
// taken away; Silent if the part is all of it or more.
func Without(total, part float64) float64 {
	return ofEnergy(math.Pow(10, total/10) - math.Pow(10, part/10))
}

// Mean is the energy mean of levels, 10·log10(1/N·Σ10^(L/10)) (ISO 1996-1).
// The mean of no levels is Silent.
func Mean(levels ...float64) float64 {
	if len(levels) == 0 {
		return Silent
	}
	return ofEnergy(energy(levels) / float64(len(levels)))
}

func energy(levels []float64) float64 {
	var e float64
	for _, l := range levels {
		e += math.Pow(10, l/10)
	}
	return e
}

func ofEnergy(e float64) float64 {
	if e <= 0 {
		return Silent
	}
	return max(Silent, 10*math.Log10(e))
}
