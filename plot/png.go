package plot

import (
	"fmt"
	"image/color"
	"io"
	"math"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

const maxPixels = 100e6 // of one image

// PNG writes the sheet as an image of scale dots per px: 1 for a screen, 2 for
// a fine screen, 3 for print; 0 means 2. Scale is 0.5 to 8, and the image is
// limited to a hundred million dots.
func (s Sheet) PNG(w io.Writer, scale float64) error {
	if scale == 0 {
		scale = 2
	}
	if !(scale >= 0.5 && scale <= 8) {
		return fmt.Errorf("plot: image scale %v: want 0.5 to 8", scale)
	}
	pic, err := s.compose()
	if err != nil {
		return err
	}
	if n := pic.w * pic.h * scale * scale; n > maxPixels {
		return fmt.Errorf("plot: an image of %.0f×%.0f dots is too large: make the sheet smaller or the scale lower", pic.w*scale, pic.h*scale)
	}
	dpi := int(math.Round(96 * scale))
	// A px is 3/4 pt.
	length := func(px float64) vg.Length { return vg.Length(px * 0.75) }
	c := vgimg.NewWith(vgimg.UseWH(length(pic.w), length(pic.h)), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(paper))
	fonts := font.NewCache(liberation.Collection())
	at := func(p point) vg.Point { return vg.Point{X: length(p.x), Y: length(pic.h - p.y)} }
	for _, sh := range pic.shapes {
		switch sh := sh.(type) {
		case fill:
			if sh.ground {
				continue
			}
			c.SetColor(sh.color)
			var p vg.Path
			p.Move(at(point{sh.x0, sh.y0}))
			p.Line(at(point{sh.x1, sh.y0}))
			p.Line(at(point{sh.x1, sh.y1}))
			p.Line(at(point{sh.x0, sh.y1}))
			p.Close()
			c.Fill(p)
		case stroke:
			c.SetColor(sh.color)
			c.SetLineWidth(length(sh.width))
			dash := make([]vg.Length, len(sh.dash))
			for i, d := range sh.dash {
				dash[i] = length(d)
			}
			c.SetLineDash(dash, 0)
			for _, r := range sh.runs {
				var p vg.Path
				for i, q := range r {
					if i == 0 {
						p.Move(at(q))
					} else {
						p.Line(at(q))
					}
				}
				c.Stroke(p)
			}
		case ring:
			circle := func(col color.RGBA, paint func(vg.Path)) {
				var p vg.Path
				p.Move(at(point{sh.at.x + sh.r, sh.at.y}))
				p.Arc(at(sh.at), length(sh.r), 0, 2*math.Pi)
				p.Close()
				c.SetColor(col)
				paint(p)
			}
			circle(sh.inside, c.Fill)
			if sh.width > 0 {
				c.SetLineWidth(length(sh.width))
				c.SetLineDash(nil, 0)
				circle(sh.line, c.Stroke)
			}
		case words:
			f := font.Font{Typeface: "Liberation", Variant: "Sans"}
			if sh.bold {
				f.Weight = stdfont.WeightBold
			}
			c.SetColor(sh.color)
			c.FillString(fonts.Lookup(f, length(sh.size)), at(point{sh.bounds().x0, sh.at.y}), boxed(sh.text))
		}
	}
	_, err = vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}
