package balance

import "math"

// Limits of a walk around a fold.
const (
	arcPoints   = 400
	arcNewton   = 10
	arcShortest = 1e-7 // of the drive
	arcLongest  = 0.1
)

// around follows the curve of states past a fold, where it turns back in drive
// before it goes on, until it comes to the drive from below again
// (pseudo-arclength continuation; Keller 1977). What it finds is where the cone
// jumps to.
func (f *Follower) around(target float64) (*State, error) {
	if f.past == nil || f.last == nil || f.past.Drive == f.last.Drive {
		return nil, ErrNotFound
	}
	q := f.q
	n := len(q.r)
	y, tangent := append([]complex128(nil), f.last.scaled...), make([]complex128, n)
	a, trial := make([]complex128, n), make([]complex128, n)
	drive, along := f.last.Drive, f.last.Drive-f.past.Drive
	for i := range tangent {
		tangent[i] = f.last.scaled[i] - f.past.scaled[i]
	}
	length := math.Sqrt(dot(tangent, tangent) + along*along)
	shrink(tangent, length)
	along /= length
	for range arcPoints {
		found, steps := false, 0
		var next float64
		for ; !found; length /= 2 {
			if length < arcShortest*drive {
				return nil, ErrNotFound
			}
			for i := range trial {
				trial[i] = y[i] + complex(length, 0)*tangent[i]
			}
			next = drive + length*along
			found, steps = q.correct(trial, &next, y, drive, tangent, along, length, a)
			if found {
				break
			}
		}
		if drive < target && next >= target {
			k := complex((target-drive)/(next-drive), 0)
			for i := range y {
				y[i] += k * (trial[i] - y[i])
			}
			return f.try(target, y)
		}
		long := 0.0
		for i := range y {
			tangent[i] = trial[i] - y[i]
		}
		along = next - drive
		long = math.Sqrt(dot(tangent, tangent) + along*along)
		shrink(tangent, long)
		along /= long
		copy(y, trial)
		drive = next
		if steps <= 3 {
			length = math.Min(1.6*length, arcLongest*target)
		}
	}
	return nil, ErrNotFound
}

// correct brings a point back to the curve across the tangent from (from, base).
func (q *solver) correct(y []complex128, drive *float64, from []complex128, base float64, tangent []complex128, along, length float64, a []complex128) (bool, int) {
	for step := range arcNewton {
		if !(*drive > 0) {
			return false, step
		}
		misfit := q.residual(*drive, y, q.r)
		if !(misfit < 10) {
			return false, step
		}
		off := (*drive-base)*along - length
		for i, t := range tangent {
			d := y[i] - from[i]
			off += real(d)*real(t) + imag(d)*imag(t)
		}
		if misfit <= tolerance && math.Abs(off) <= 1e-6*length {
			return true, step
		}
		q.moved = true
		q.newton(q.r, 1e-4)
		copy(a, q.step)
		for i, v := range q.p.alone {
			q.trial[i] = -v
		}
		q.newton(q.trial, 1e-4)
		move := -(off + dot(tangent, a)) / (dot(tangent, q.step) + along)
		if math.IsNaN(move) || math.Abs(move) > base {
			return false, step
		}
		*drive += move
		for i := range y {
			y[i] += a[i] + complex(move, 0)*q.step[i]
		}
	}
	return false, arcNewton
}
