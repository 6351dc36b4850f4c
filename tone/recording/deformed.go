package recording

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// order gives the indexes of steps from the softest drive to the loudest; where
// a drive is not known the fundamental's level stands for it.
func order(steps []Step) []int {
	loud := func(s *Step) float64 { return s.Harmonics[0].Level }
	if !slices.ContainsFunc(steps, func(s Step) bool { return s.Drive == nil }) {
		loud = func(s *Step) float64 { return *s.Drive }
	}
	index := make([]int, len(steps))
	for i := range index {
		index[i] = i
	}
	slices.SortStableFunc(index, func(a, b int) int { return cmp.Compare(loud(&steps[a]), loud(&steps[b])) })
	return index
}

// sure is the relative standard error up to which a step may serve as reference
// of compression: 0.1 dB.
const sure = 0.0115

// compress sets how far the fundamental of each step lags behind its drive. The
// reference is the mean gain of the three softest steps that are known to
// 0.1 dB, or of fewer if there are no more than five.
func compress(steps []Step) {
	gain := func(s *Step) float64 { return s.Harmonics[0].Level - *s.Drive }
	var reference float64
	var n int
	most := min(3, max(1, len(steps)/2))
	for _, i := range order(steps) {
		s := &steps[i]
		if s.Drive == nil || s.Harmonics[0].Error > sure*s.Harmonics[0].RMS {
			continue
		}
		if n < most {
			reference += gain(s)
			n++
		}
	}
	if n == 0 || len(steps) < 2 {
		return
	}
	reference /= float64(n)
	for i := range steps {
		if s := &steps[i]; s.Drive != nil {
			c := reference - gain(s)
			s.Compression = &c
		}
	}
}

func (l Limits) words() string {
	return fmt.Sprintf("deformed from the step on from which every louder one has a distortion (THD of the fundamental, less what noise alone reads) of %.3g %% or more, a compression of %.3g dB or more, or an asymmetry (top − bottom over their sum) of %.3g or more, each clear of its standard error",
		100*l.Distortion, l.Compression, l.Asymmetry)
}

// excess is the largest reading of a step as a share of its limit, and in words
// those at or beyond theirs.
func (l Limits) excess(s *Step) (worst float64, causes []string) {
	clean := math.Sqrt(max(0, s.OfFundamental*s.OfFundamental-s.Floor*s.Floor))
	if clean > 3*s.Error {
		worst = clean / l.Distortion
	}
	if worst >= 1 {
		causes = append(causes, fmt.Sprintf("distortion %.2g %%", 100*clean))
	}
	if s.Compression != nil {
		share := *s.Compression / l.Compression
		worst = max(worst, share)
		if share >= 1 {
			causes = append(causes, fmt.Sprintf("compression %.2g dB", *s.Compression))
		}
	}
	if a := math.Abs(s.Asymmetry); a > 3*s.AsymmetryError {
		share := a / l.Asymmetry
		worst = max(worst, share)
		if share >= 1 {
			causes = append(causes, fmt.Sprintf("asymmetry %.2g", s.Asymmetry))
		}
	}
	return worst, causes
}

// first finds the softest step from which on all are deformed.
func (l Limits) first(steps []Step) *Deformation {
	index := order(steps)
	at := len(index)
	for at > 0 {
		if worst, _ := l.excess(&steps[index[at-1]]); worst < 1 {
			break
		}
		at--
	}
	if at == len(index) {
		return nil
	}
	s := &steps[index[at]]
	worst, causes := l.excess(s)
	d := &Deformation{Step: index[at], Level: s.Harmonics[0].Level, Drive: s.Drive, Causes: causes}
	if at == 0 {
		return d
	}
	before := &steps[index[at-1]]
	less, _ := l.excess(before)
	less = max(less, 1e-3)
	// The share of the way, on logarithmic scales of reading and level.
	share := -math.Log(less) / (math.Log(worst) - math.Log(less))
	d.Level = before.Harmonics[0].Level + share*(d.Level-before.Harmonics[0].Level)
	if s.Drive != nil && before.Drive != nil {
		v := *before.Drive + share*(*s.Drive-*before.Drive)
		d.Drive = &v
	}
	return d
}
