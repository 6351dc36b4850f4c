// Package acoustic holds closed formulas of linear acoustics: wall losses and
// propagation in ducts, end masses, piston radiation, open pipes, horns.
//
// Conventions: SI units, time dependence e^{+jωt}, acoustic impedance is
// pressure over volume velocity [Pa s/m³]. Each function names its source.
// Most return the exact derivative beside the value. Nothing allocates. The
// equation numbers of Abramowitz & Stegun are quoted from memory; the formulas
// themselves are tested.
//
// Arguments are plain numbers and are not checked in the fast functions: a
// negative or NaN argument where the doc says "≥ 0" is the caller's bug.
package acoustic
