package svg

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

// A Tone is a colour named by what it is for. In a page the style sheet says
// what it looks like; plain is for a figure that stands alone.
type Tone struct{ name, plain string }

// The tones: greys and one accent, told apart in greyscale too. Shape and dash
// always say the same as a tone.
var (
	Ink    = Tone{"ink", "#26231f"}
	Soft   = Tone{"soft", "#5f574c"}
	Mid    = Tone{"mid", "#8b8172"}
	Line   = Tone{"line", "#d8d0c1"}
	Accent = Tone{"accent", "#8f3d14"}
	Wash   = Tone{"wash", "#ece5d8"}
	Awash  = Tone{"awash", "#f0d9c8"}
	Paper  = Tone{"paper", "#fbf9f4"}

	// Steps of a ramp for counts.
	Step1 = Tone{"step1", "#f6e3d3"}
	Step2 = Tone{"step2", "#dca982"}
	Step3 = Tone{"step3", "#b0622f"}
	Step4 = Tone{"step4", "#6f2c0c"}

	tones = []Tone{Ink, Soft, Mid, Line, Accent, Wash, Awash, Paper, Step1, Step2, Step3, Step4}
)

// RGBA makes a tone a color.Color.
func (t Tone) RGBA() (r, g, b, a uint32) {
	v, err := strconv.ParseUint(t.plain[1:], 16, 32)
	if err != nil {
		return 0, 0, 0, 0xffff
	}
	return uint32(v>>16&255) * 0x101, uint32(v>>8&255) * 0x101, uint32(v&255) * 0x101, 0xffff
}

// Sizes of text, in the units of the drawing (CSS pixels at full width).
const (
	Small  = vg.Length(11.5)
	Normal = vg.Length(12.5)
)

// How text lies about its place.
const (
	AlignLeft, AlignCentre, AlignRight = draw.XLeft, draw.XCenter, draw.XRight
	alignTop, alignBottom              = draw.YTop, draw.YBottom

	// AlignMiddle sets small letters level with a mark: the middle of a line's
	// full height lies lower.
	AlignMiddle = draw.YAlignment(-0.36)
)

// The dashes of lines.
var (
	Dashed = []vg.Length{5, 3}
	Dotted = []vg.Length{1.5, 3}
)

// Stroke is the style of a line; without dashes it is whole.
func Stroke(t Tone, width vg.Length, dashes []vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: t, Width: width, Dashes: dashes}
}

// Lettering is the style of a text.
func Lettering(size vg.Length, t Tone, x draw.XAlignment, y draw.YAlignment) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	return text.Style{Color: t, Font: f, Handler: hand{plot.DefaultTextHandler}, XAlign: x, YAlign: y}
}

// Bold is a style of text, made bold.
func Bold(s text.Style) text.Style {
	s.Font.Weight = xfont.WeightBold
	return s
}

// TextWidth is how much room a text takes.
func TextWidth(s string, size vg.Length) vg.Length {
	return Lettering(size, Ink, AlignLeft, alignTop).Width(s)
}

// NewPlot is an empty plot in the tool's look: no frame, small labels, ticks at
// round numbers without tick lines. All styles are set on the plot itself; the
// package's defaults are shared by all.
func NewPlot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.Title.TextStyle = Bold(Lettering(Normal, Ink, AlignCentre, alignTop))
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Width, a.Tick.Length, a.Tick.Width, a.Padding = 0, 0, 0, 4
		a.Label.TextStyle = Lettering(Small, Soft, AlignCentre, alignBottom)
		a.Label.Padding = 2
		a.Tick.Marker = Rounds{Scale: 1}
	}
	p.X.Tick.Label = Lettering(Small, Soft, AlignCentre, alignTop)
	p.Y.Tick.Label = Lettering(Small, Soft, AlignRight, draw.YCenter)
	return p
}

// Rounds are round places on an axis, three to seven (few: two to four), written
// with scale times their value.
type Rounds struct {
	Scale float64
	Few   bool
}

// Ticks makes rounds a plot.Ticker.
func (r Rounds) Ticks(lo, hi float64) []plot.Tick {
	lo, hi = lo*r.Scale, hi*r.Scale
	if !Finite(lo) || !Finite(hi) || !(hi > lo) {
		return nil
	}
	least := 3.0
	if r.Few {
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
		out = append(out, plot.Tick{Value: k * step / r.Scale, Label: Round(k*step, places)})
	}
	return out
}

// Round writes x with at most the given decimals, none that is a closing zero.
func Round(x float64, decimals int) string {
	s := page.Fixed(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return strings.Replace(s, "-", "−", 1)
}

// Fit cuts str to the room, with an ellipsis.
func Fit(str string, size, room vg.Length) string {
	if TextWidth(str, size) <= room {
		return str
	}
	for str != "" {
		_, n := utf8.DecodeLastRuneInString(str)
		str = strings.TrimRight(str[:len(str)-n], " ")
		if TextWidth(str+"…", size) <= room {
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
		if cur == "" || TextWidth(try, size) <= room {
			cur = try
			continue
		}
		if len(lines) == most-1 {
			cur = strings.Join(append([]string{cur}, words[i:]...), " ")
			break
		}
		lines = append(lines, Fit(cur, size, room))
		cur = w
	}
	return append(lines, Fit(cur, size, room))
}

// Finite tells a number that has a place on a scale from NaN and the infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
