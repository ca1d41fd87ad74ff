package figure

import (
	"strconv"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A tone is a colour named by what it is for. In a page the style sheet says
// what it looks like; plain is for a figure that stands alone.
type tone struct{ name, plain string }

// The tones: greys and one accent, told apart in greyscale too. Shape and dash
// always say the same as a tone.
var (
	ink    = tone{"ink", "#26231f"}
	soft   = tone{"soft", "#5f574c"}
	mid    = tone{"mid", "#8b8172"}
	line   = tone{"line", "#d8d0c1"}
	accent = tone{"accent", "#8f3d14"}
	wash   = tone{"wash", "#ece5d8"}
	awash  = tone{"awash", "#f0d9c8"}
	tan    = tone{"tan", "#d9a784"}
	paper  = tone{"paper", "#fbf9f4"}
)

// RGBA makes a tone a color.Color.
func (t tone) RGBA() (r, g, b, a uint32) {
	v, err := strconv.ParseUint(t.plain[1:], 16, 32)
	if err != nil {
		return 0, 0, 0, 0xffff
	}
	return uint32(v>>16&255) * 0x101, uint32(v>>8&255) * 0x101, uint32(v&255) * 0x101, 0xffff
}

// Sizes of text, in the units of the drawing (CSS pixels at full width).
const (
	small  = 11.5
	normal = 12.5
)

var (
	dashed = []vg.Length{5, 3}
	dotted = []vg.Length{1.5, 3}
)

func lettering(size float64, t tone, bold bool) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
	if bold {
		f.Weight = xfont.WeightBold
	}
	return text.Style{Color: t, Font: f, Handler: plot.DefaultTextHandler, XAlign: draw.XLeft, YAlign: draw.YCenter}
}

func textWidth(s string, size float64) float64 {
	return lettering(size, ink, false).Width(s).Points()
}

type dashes = []vg.Length
