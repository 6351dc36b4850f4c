package fit

import (
	"fmt"
	"math"
	"sort"

	"ocarina/design"
)

// change is a number of the design to be set.
type change struct {
	part, key string
	index     int
	si        float64
}

func (f *fitting) changes() []change { return nil }

func sortFeatures(list []Feature) {
	sort.SliceStable(list, func(i, j int) bool { return list[i].place() < list[j].place() })
}

var _ = fmt.Sprint
var _ = math.Abs
var _ design.Design
