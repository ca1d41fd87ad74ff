package figure

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
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
	paper  = tone{"paper", "#fbf9f4"}

	// Steps of a ramp for counts.
	step1 = tone{"step1", "#f6e3d3"}
	step2 = tone{"step2", "#dca982"}
	step3 = tone{"step3", "#b0622f"}
	step4 = tone{"step4", "#6f2c0c"}

	tones = []tone{ink, soft, mid, line, accent, wash, awash, paper, step1, step2, step3, step4}
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
	small  = vg.Length(11.5)
	normal = vg.Length(12.5)
)

const (
	alignLeft, alignCentre, alignRight = draw.XLeft, draw.XCenter, draw.XRight
	alignTop, alignBottom              = draw.YTop, draw.YBottom

	// alignMiddle sets small letters level with a mark: the middle of a line's
	// full height lies lower.
	alignMiddle = draw.YAlignment(-0.36)
)

var (
	dashed = []vg.Length{5, 3}
	dotted = []vg.Length{1.5, 3}
)

func stroke(t tone, width vg.Length, dashes []vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: t, Width: width, Dashes: dashes}
}

func lettering(size vg.Length, t tone, x draw.XAlignment, y draw.YAlignment) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	return text.Style{Color: t, Font: f, Handler: plot.DefaultTextHandler, XAlign: x, YAlign: y}
}

func bold(s text.Style) text.Style {
	s.Font.Weight = xfont.WeightBold
	return s
}

func textWidth(s string, size vg.Length) vg.Length {
	return lettering(size, ink, alignLeft, alignTop).Width(s)
}

// newPlot is an empty plot in the tool's look: no frame, small labels, ticks at
// round numbers without tick lines. All styles are set on the plot itself; the
// package's defaults are shared by all.
func newPlot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.Title.TextStyle = bold(lettering(normal, ink, alignCentre, alignTop))
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Width, a.Tick.Length, a.Tick.Width, a.Padding = 0, 0, 0, 4
		a.Label.TextStyle = lettering(small, soft, alignCentre, alignBottom)
		a.Label.Padding = 2
		a.Tick.Marker = rounds{scale: 1}
	}
	p.X.Tick.Label = lettering(small, soft, alignCentre, alignTop)
	p.Y.Tick.Label = lettering(small, soft, alignRight, draw.YCenter)
	return p
}

// rounds are round places on an axis, three to seven (few: two to four), written
// with scale times their value.
type rounds struct {
	scale float64
	few   bool
}

// Ticks makes rounds a plot.Ticker.
func (r rounds) Ticks(lo, hi float64) []plot.Tick {
	lo, hi = lo*r.scale, hi*r.scale
	if !finite(lo) || !finite(hi) || !(hi > lo) {
		return nil
	}
	least := 3.0
	if r.few {
		least = 2
	}
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/least)))
	for _, k := range []float64{5, 2.5, 2} {
		if (hi-lo)/(k*step) >= least {
			step *= k
			break
		}
	}
	places := max(0, 1-int(math.Floor(math.Log10(step))))
	var out []plot.Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step && len(out) < 20; k++ {
		out = append(out, plot.Tick{Value: k * step / r.scale, Label: round(k*step, places)})
	}
	return out
}

// round writes x with at most the given decimals, none that is a closing zero.
func round(x float64, decimals int) string {
	s := page.Fixed(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return strings.Replace(s, "-", "−", 1)
}

// fit cuts str to the room, with an ellipsis.
func fit(str string, size, room vg.Length) string {
	if textWidth(str, size) <= room {
		return str
	}
	for str != "" {
		_, n := utf8.DecodeLastRuneInString(str)
		str = strings.TrimRight(str[:len(str)-n], " ")
		if textWidth(str+"…", size) <= room {
			return str + "…"
		}
	}
	return ""
}

// broken breaks str at blanks, but not between a figure and its unit, into at
// most most lines that fit the room; what is left over is cut.
func broken(str string, size, room vg.Length, most int) []string {
	var lines []string
	cur := ""
	var words []string
	for _, w := range strings.Fields(str) {
		if last := len(words) - 1; last >= 0 && strings.ContainsRune("0123456789", rune(words[last][len(words[last])-1])) {
			words[last] += " " + w
			continue
		}
		words = append(words, w)
	}
	for i, w := range words {
		try := strings.TrimSpace(cur + " " + w)
		if cur == "" || textWidth(try, size) <= room {
			cur = try
			continue
		}
		if len(lines) == most-1 {
			cur = strings.Join(append([]string{cur}, words[i:]...), " ")
			break
		}
		lines = append(lines, fit(cur, size, room))
		cur = w
	}
	return append(lines, fit(cur, size, room))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
