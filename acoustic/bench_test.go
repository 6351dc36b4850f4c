package acoustic

import (
	"math"
	"testing"
)

// sinks keep the compiler from leaving the calls out.
var (
	sinkC complex128
	sinkF float64
)

func BenchmarkLossRatio(b *testing.B) {
	for _, c := range []struct {
		name string
		s    float64
	}{{"s=0.5", 0.5}, {"s=3", 3}, {"s=12", 12}, {"s=23", 23}, {"s=30", 30}, {"s=300", 300}} {
		b.Run(c.name, func(b *testing.B) {
			s := c.s
			for b.Loop() {
				s += 1e-9
				F, dF := LossRatio(s)
				sinkC = F + dF
			}
		})
	}
}

func BenchmarkLossRatioOnly(b *testing.B) {
	for b.Loop() {
		sinkC = LossRatioOnly(30)
	}
}

func BenchmarkLossComplement(b *testing.B) {
	for b.Loop() {
		E, dE := LossComplement(30)
		sinkC = E + dE
	}
}

func BenchmarkPropagation(b *testing.B) {
	for _, c := range []struct {
		name string
		u    complex128
	}{{"near", -0.3 + 0.01i}, {"far", -9 + 0.1i}} {
		b.Run(c.name, func(b *testing.B) {
			u := c.u
			for b.Loop() {
				u += 1e-12
				c, s, ds := Propagation(u)
				sinkC = c + s + ds
			}
		})
		b.Run(c.name+" only", func(b *testing.B) {
			u := c.u
			for b.Loop() {
				u += 1e-12
				c, s := PropagationOnly(u)
				sinkC = c + s
			}
		})
	}
}

func BenchmarkPiston(b *testing.B) {
	for name, f := range map[string]func(float64) (float64, float64){
		"resistance": PistonResistance, "reactance": PistonReactance, "directivity": Directivity,
	} {
		for label, y := range map[string]float64{"low": 0.2, "mid": 3, "high": 50} {
			b.Run(name+" "+label, func(b *testing.B) {
				x := y
				for b.Loop() {
					x += 1e-12
					v, d := f(x)
					sinkF = v + d
				}
			})
		}
	}
}

func BenchmarkDuct(b *testing.B) {
	d := round("A", 0.05)
	b.Run("immittance", func(b *testing.B) {
		for b.Loop() {
			m := d.Immittance(300)
			sinkC = m.Z + m.Y
		}
	})
	b.Run("derivatives", func(b *testing.B) {
		for b.Loop() {
			m, s, a, w := d.Derivatives(300)
			sinkC = m.Z + s.Z + a.Y + w.Y
		}
	})
}

func BenchmarkRectangleMass(b *testing.B) {
	for b.Loop() {
		I, dw, dh := RectangleMass(0.3, 0.02)
		sinkF = I + dw + dh
	}
}

func BenchmarkUnflangedPipe(b *testing.B) {
	for b.Loop() {
		r, d := UnflangedPipe(math.Pi / 4)
		sinkF = r + d
	}
}
