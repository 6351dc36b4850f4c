package tone

import (
	"math"
)

// crossing returns where a quantity that grows with the drive reaches a limit
// between two steps: the logarithms of both are taken as straight.
func crossing(v0, v1, q0, q1, limit float64) float64 {
	if q0 <= 0 || q1 <= q0 {
		return v1
	}
	t := math.Log(limit/q0) / math.Log(q1/q0)
	return v0 * math.Pow(v1/v0, math.Min(math.Max(t, 0), 1))
}

// levelAt returns the level at a voltage between steps i−1 and i.
func (t *Tone) levelAt(i int, v float64) *float64 {
	b := t.climbed[i]
	if b.Level == nil {
		return nil
	}
	if i == 0 {
		level := *b.Level + 20*math.Log10(v/b.Voltage)
		return &level
	}
	a := t.climbed[i-1]
	part := math.Log(v/a.Voltage) / math.Log(b.Voltage/a.Voltage)
	level := *a.Level + part*(*b.Level-*a.Level)
	return &level
}

// judge finds the first limit, the highest clean level and the safe drive.
func (t *Tone) judge(o Options) {
	t.FirstLimit = "none"
	if len(t.climbed) == 0 {
		return
	}
	t.firstLimit()
	t.clean(o.Clean)
	t.safest()
}

func (t *Tone) firstLimit() {
	for i, s := range t.climbed {
		lowest := math.Inf(1)
		for j, u := range s.used {
			if u.part <= 1 {
				continue
			}
			v := s.Voltage
			if i > 0 {
				v = crossing(t.climbed[i-1].Voltage, v, t.climbed[i-1].used[j].part, u.part, 1)
			} else {
				v /= math.Max(u.part, 1)
			}
			if v < lowest {
				lowest, t.FirstLimit = v, u.name
			}
		}
		if !math.IsInf(lowest, 0) {
			t.LimitVoltage, t.LimitLevel = &lowest, t.levelAt(i, lowest)
			return
		}
	}
}

func (t *Tone) clean(limit float64) {
	for i := range t.climbed {
		s := &t.climbed[i]
		d := s.THD
		if d <= limit {
			continue
		}
		if i == 0 {
			return
		}
		v := crossing(t.climbed[i-1].Voltage, s.Voltage, t.climbed[i-1].THD, d, limit)
		t.CleanVoltage, t.CleanLevel = &v, t.levelAt(i, v)
		return
	}
	last := len(t.climbed) - 1
	v := t.climbed[last].Voltage
	t.CleanVoltage, t.CleanLevel, t.CleanAll = &v, t.climbed[last].Level, true
}

func (t *Tone) safest() {
	last := len(t.climbed) - 1
	for i := range t.climbed {
		s := &t.climbed[i]
		if s.safe <= 1 {
			continue
		}
		v := s.Voltage / s.safe
		if i > 0 && s.Jumped {
			v = t.climbed[i-1].Voltage // it may jump anywhere from there
		} else if i > 0 {
			v = crossing(t.climbed[i-1].Voltage, s.Voltage, t.climbed[i-1].safe, s.safe, 1)
		}
		t.SafeVoltage, t.SafeLevel = &v, t.levelAt(i, v)
		return
	}
	if t.climbed[last].safe > 0 {
		v := t.climbed[last].Voltage
		t.SafeVoltage, t.SafeLevel = &v, t.climbed[last].Level
	}
}
