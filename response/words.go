package response

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"ocarina/design"
)

// share is a part with its share of an energy.
type share struct {
	name string
	part float64
}

// leading returns the parts that hold most of an energy: the largest first,
// none under a sixth, until four fifths are named.
func leading(m map[string]float64) (list []share) {
	for k, v := range m {
		list = append(list, share{k, v})
	}
	sort.Slice(list, func(i, j int) bool {
		if list[i].part != list[j].part {
			return list[i].part > list[j].part
		}
		return list[i].name < list[j].name
	})
	sum := 0.0
	for i, s := range list {
		if i > 0 && (s.part < 1.0/6 || sum >= 0.8) || i == 3 {
			return list[:i]
		}
		sum += s.part
	}
	return list
}

func names(list []share) []string {
	n := make([]string, len(list))
	for i, s := range list {
		n[i] = s.name
	}
	return n
}

// join lists words as a sentence does: "a", "a and b", "a, b and c".
func join(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// kindOf says what a part is, for words about it.
func (b *Bench) kindOf(name string) design.Group {
	for i := range b.Model.Parts {
		if p := &b.Model.Parts[i]; p.Name == name && p.Group != design.LossPart {
			return p.Group
		}
	}
	return design.LossPart
}

// body names a moving part: the only driver is simply the cone.
func (b *Bench) body(name string) string {
	for _, m := range b.Model.Mounts {
		if m.Name != name {
			continue
		}
		if len(b.Model.Mounts) == 1 {
			return "the cone"
		}
		return "the cone of " + name
	}
	return "the passive " + name
}

// movers are what carries the kinetic energy, in words: "the cone and the air
// in mouth".
// It is many where a verb after it is plural.
func (b *Bench) movers(list []share) (text string, many bool) {
	var all, air []string
	for _, s := range list {
		if b.kindOf(s.name) == design.MovingPart {
			all = append(all, b.body(s.name))
		} else {
			air = append(air, s.name)
		}
	}
	if len(air) > 0 {
		all = append(all, "the air in "+join(air))
	}
	return join(all), len(all) > 1
}

// springs are what holds the potential energy, and how chambers among them
// breathe: "the air of near and far, which breathe together, and the cone's
// suspension".
func (b *Bench) springs(list []share, pressures map[string]Relative) string {
	var air, lines, all []string
	for _, s := range list {
		switch b.kindOf(s.name) {
		case design.ChamberPart:
			air = append(air, s.name)
		case design.DuctPart:
			lines = append(lines, s.name)
		default:
			all = append(all, "the suspension of "+b.body(s.name))
		}
	}
	if len(lines) > 0 {
		all = append([]string{"the air along " + join(lines)}, all...)
	}
	if len(air) == 0 {
		return join(all)
	}
	text := "the air of " + join(air)
	breath := b.breath(air, pressures)
	if len(all) == 0 {
		return text + breath
	}
	if breath != "" {
		return text + breath + ", and against " + join(all)
	}
	return join(append([]string{text}, all...))
}

// breath says how the leading chambers move against each other, or "".
func (b *Bench) breath(chambers []string, pressures map[string]Relative) string {
	if len(chambers) < 2 {
		return ""
	}
	first, second := pressures[chambers[0]], pressures[chambers[1]]
	apart := math.Abs(math.Mod(first.Phase-second.Phase+540, 360) - 180)
	how, phase := "out of step", fmt.Sprintf("%.0f° apart", apart)
	switch {
	case apart < 60:
		how = "together"
		if apart < 20 {
			phase = "in phase"
		}
	case apart > 120:
		how = "against each other"
		if apart > 160 {
			phase = "in opposite phase"
		}
	}
	if second.Ratio == 0 {
		return ""
	}
	pair := ""
	if len(chambers) > 2 {
		pair = fmt.Sprintf("%s to %s ", chambers[0], chambers[1])
	}
	return fmt.Sprintf(", which breathe %s (%s%s : 1, %s)", how, pair, ratio(first.Ratio/second.Ratio), phase)
}

func ratio(r float64) string {
	if r >= 10 {
		return fmt.Sprintf("%.0f", r)
	}
	return fmt.Sprintf("%.2f", r)
}

// still is the share of the kinetic energy below which a cone is said to be
// almost still.
const still = 0.03

// cones names all driven cones: "the cone", "the cones of left and right".
func (b *Bench) cones() string {
	if len(b.Model.Mounts) == 1 {
		return "the cone"
	}
	var list []string
	for _, m := range b.Model.Mounts {
		list = append(list, m.Name)
	}
	return "the cones of " + join(list)
}

// coneShare returns the kinetic share of all driven cones.
func (b *Bench) coneShare(kinetic map[string]float64) (sum float64) {
	for _, m := range b.Model.Mounts {
		sum += kinetic[m.Name]
	}
	return sum
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// describe writes the owner and the reading of each feature.
func (b *Bench) describe(features []Feature) {
	for i := range features {
		f := &features[i]
		f.Owner = b.owner(f)
		f.Reading = b.reading(f)
	}
}

func (b *Bench) owner(f *Feature) string {
	if f.Coil {
		return "coil against moving mass"
	}
	movers, springs := leading(f.Kinetic), leading(f.Potential)
	if len(movers) == 0 || len(springs) == 0 {
		return f.Kind
	}
	if f.Kind == "peak" && b.kindOf(springs[0].name) == design.MovingPart && springs[0].part > 0.5 {
		return springs[0].name + " on its own spring"
	}
	return join(b.short(movers)) + " against " + join(b.short(springs))
}

// short names the first two parts of a list; the box is meant, not its springs.
func (b *Bench) short(list []share) []string {
	n := names(list)
	return n[:min(len(n), 2)]
}

func (b *Bench) reading(f *Feature) string {
	head := fmt.Sprintf("%s at %s Hz: ", strings.ToUpper(f.Kind[:1])+f.Kind[1:], hertz(f.Frequency))
	part, who, many := b.coneShare(f.Kinetic), b.cones(), len(b.Model.Mounts)
	if f.Coil {
		return head + fmt.Sprintf("the coil's inductance meets the moving mass of %s. The air of the box has no part in it.", who)
	}
	movers, springs := leading(f.Kinetic), leading(f.Potential)
	if len(movers) == 0 || len(springs) == 0 {
		return head + "nothing in the box stores energy here."
	}
	state := ""
	switch {
	case part < still:
		state = fmt.Sprintf("%s %s almost still. ", who, verb(many, "is", "are"))
	case f.Kind == "dip":
		state = fmt.Sprintf("%s %s held back. ", who, verb(many, "is", "are"))
	default:
		state = fmt.Sprintf("%s %s most freely. ", who, verb(many, "moves", "move"))
	}
	return head + state + b.swing(movers, "swings", "swing") + " against " + b.springs(springs, f.Pressures) + "."
}

// swing is what moves, with its verb.
func (b *Bench) swing(movers []share, one, many string) string {
	text, plural := b.movers(movers)
	if plural {
		return capital(text) + " " + many
	}
	return capital(text) + " " + one
}

func capital(s string) string {
	if strings.HasPrefix(s, "the ") {
		return "T" + s[1:]
	}
	return s
}

// hertz writes a frequency with four digits at the most.
func hertz(f float64) string {
	switch {
	case f < 100:
		return fmt.Sprintf("%.4g", f)
	case f < 1000:
		return fmt.Sprintf("%.1f", f)
	}
	return fmt.Sprintf("%.0f", f)
}

// Rank names a feature among those of its kind: "lower dip", "peak 2 of 4".
func Rank(features []Feature, i int) string {
	n, at := 0, 0
	for j := range features {
		if features[j].Kind == features[i].Kind && features[j].Coil == features[i].Coil {
			if j == i {
				at = n
			}
			n++
		}
	}
	kind := features[i].Kind
	switch {
	case features[i].Coil:
		return "coil's dip"
	case n == 1:
		return kind
	case n == 2:
		return [2]string{"lower ", "upper "}[at] + kind
	case n == 3:
		return [3]string{"lower ", "middle ", "upper "}[at] + kind
	}
	return fmt.Sprintf("%s %d of %d", kind, at+1, n)
}
