package body

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// How a shop's own forms move the published values. All judgements.
const (
	priorForms  = 40.0 // the published spreads count as much as this many forms
	offsetSD    = 4.0  // mm by which shops' offsets are taken to differ
	enoughForms = 30   // fewer: the published values stand
	publishedAs = 100  // the published share of odd forms counts as that of this many
	trimmed     = 0.02 // share of the widest values left out: slips that nobody noticed
)

// A Calibration is what a shop's own forms say of offsets and spreads, channel
// by channel, beside the published values. It is made to be shown.
type Calibration struct {
	Channels [form.ChannelCount]ChannelCalibration `json:"channels"`
}

// A ChannelCalibration is that of one channel.
type ChannelCalibration struct {
	Channel  form.Channel         `json:"channel"`
	Forms    int                  `json:"forms"` // with at least one measure on both sides
	Enough   bool                 `json:"enough"`
	Measures []MeasureCalibration `json:"measures"`
	// Spread is the factor on the variance of whole forms beyond what the
	// reading errors explain, Leg that of the leg profile given the foot: 1 is
	// as published.
	Spread float64 `json:"spread"`
	Leg    float64 `json:"leg"`
	// Questioned is how many of the forms the published limit would question,
	// though boots were made from them and kept.
	Questioned int    `json:"questioned"`
	Note       string `json:"note"`

	used human.Measuring
	odd  confirmed
}

// A MeasureCalibration compares published, own and used values of one measure, mm.
type MeasureCalibration struct {
	Point form.Point `json:"point"`
	// Offset: how far a written number is over the survey's.
	OffsetPublished float64        `json:"offset_published"`
	OffsetOwn       stats.Estimate `json:"offset_own"`
	OffsetUsed      float64        `json:"offset_used"`
	// Side: SD of left minus right as read, before rounding.
	SidePublished float64        `json:"side_published"`
	SideOwn       stats.Estimate `json:"side_own"`
	SideUsed      float64        `json:"side_used"`
	// Reading: SD of one reading.
	ReadingPublished float64 `json:"reading_published"`
	ReadingUsed      float64 `json:"reading_used"`
}

// Calibrate estimates a shop's own offsets and spreads from forms of mature
// orders without a remake, call-back or complaint, shrunk towards the
// published values: offsets by a normal prior, spreads by priorForms forms.
func (m *Model) Calibrate(forms []form.Form) *Calibration {
	c := new(Calibration)
	for ch := range form.ChannelCount {
		var own []form.Form
		for _, f := range forms {
			if min(f.Channel, form.Shop) == ch {
				own = append(own, f)
			}
		}
		c.Channels[ch] = calibrateChannel(m.scheme, ch, own)
	}
	return c
}

// Calibrated is the model with a shop's own values where there are enough.
func (m *Model) Calibrated(c *Calibration) *Model {
	out := NewModel(m.scheme)
	for ch := range form.ChannelCount {
		if own := &c.Channels[ch]; own.Enough {
			out.measuring[ch], out.confirmed[ch] = own.used, own.odd
			h := fnv.New32a()
			fmt.Fprintf(h, "%.6g%d%.6g", own.used, own.odd.forms, own.odd.scores)
			out.basis = append(out.basis, fmt.Sprintf("%s (%d forms)", ch, own.Forms))
			out.name += fmt.Sprintf("+%s-%d-%08x", ch, own.Forms, h.Sum32())
		}
	}
	return out
}

// A sided is one form's core numbers: logs by core index, NaN where missing.
type sided struct {
	l    [human.CoreCount]float64
	step float64
	form *form.Form
}

func sidedOf(s form.Scheme, f *form.Form) (out sided) {
	var in intake
	for i := range f.Numbers {
		in.add(s, &f.Numbers[i], i)
	}
	for i := range out.l {
		out.l[i] = math.NaN()
	}
	for i, code := range in.codes {
		if code < human.CoreCount {
			out.l[code] = math.Log(in.mm[i])
		}
	}
	out.step = steps[readingStep(in.mm, in.units)]
	out.form = f
	return out
}

func calibrateChannel(s form.Scheme, ch form.Channel, forms []form.Form) ChannelCalibration {
	c := ChannelCalibration{Channel: ch, Spread: 1, Leg: 1, used: human.Published(ch)}
	var all []sided
	for i := range forms {
		x := sidedOf(s, &forms[i])
		all = append(all, x)
		for f := range human.FeatureCount {
			if !math.IsNaN(x.l[f] + x.l[human.FeatureCount+f]) {
				c.Forms++
				break
			}
		}
	}
	c.Enough = c.Forms >= enoughForms
	if !c.Enough {
		c.Note = fmt.Sprintf("published values: %d more unproblematic forms with both sides are needed", enoughForms-c.Forms)
	}
	c.offsets(all)
	c.sides(all)
	if c.Enough {
		c.spreads(s, all)
		c.confirm(s, forms)
	}
	return c
}

// offsets are medians of the written number (mean of the sides) over the
// survey's median, on forms whose sex is known.
func (c *ChannelCalibration) offsets(all []sided) {
	worlds := [3]*human.World{form.Female: human.NewWorld(form.Female, c.used, 1), form.Male: human.NewWorld(form.Male, c.used, 1)}
	for f := range human.FeatureCount {
		var d []float64
		for _, x := range all {
			w := worlds[human.Known(x.form.Sex)]
			both := (x.l[f] + x.l[human.FeatureCount+f]) / 2
			if w != nil && !math.IsNaN(both) {
				d = append(d, (both-w.Core.Mean[human.FeatureCount+f])*w.Core.Written[human.FeatureCount+f])
			}
		}
		p := c.used.Offset(f)
		own, used := ownOffset(d, p)
		c.Measures = append(c.Measures, MeasureCalibration{Point: human.FeaturePoint[f], OffsetPublished: p, OffsetOwn: own, OffsetUsed: p + used})
		c.used.Extra[f] = used
	}
}

const (
	offsetMethod = "median of written less survey's median, normal interval"
	sideMethod   = "trimmed SD of left minus right less rounding, normal interval of its logarithm"
)

// ownOffset is the shop's offset over the survey, and what of it beyond the
// published offset p is used.
func ownOffset(d []float64, p float64) (own stats.Estimate, used float64) {
	n := len(d)
	if n < enoughForms {
		return stats.Missing(n, offsetMethod, fmt.Sprintf("%d more forms with the sex given are needed", enoughForms-n)), 0
	}
	mid, sd := middle(d)
	se := 1.2533 * sd / math.Sqrt(float64(n)) // of a median of normal values
	own = stats.Estimate{Point: p + mid, Low: p + mid - twoSided95*se, High: p + mid + twoSided95*se,
		Level: stats.DefaultLevel, N: n, Method: offsetMethod}
	return own, mid * offsetSD * offsetSD / (offsetSD*offsetSD + se*se)
}

// ownSide is the SD of left minus right with its interval.
func ownSide(v float64, n int) stats.Estimate {
	if n < 2 {
		return stats.Missing(n, sideMethod, "no forms with this measure on both sides")
	}
	sd, k := math.Sqrt(v), math.Exp(twoSided95/math.Sqrt(2*float64(n)))
	return stats.Estimate{Point: sd, Low: sd / k, High: sd * k, Level: stats.DefaultLevel, N: n, Method: sideMethod}
}

// middle is the median and the SD by the median distance from it.
func middle(d []float64) (mid, sd float64) {
	d = slices.Clone(d)
	mid = quantile(d, 0.5)
	for i := range d {
		d[i] = math.Abs(d[i] - mid)
	}
	return mid, 1.4826 * quantile(d, 0.5)
}

// sides turns the spread of left minus right into reading errors. A spread
// wider than published is laid to the reading, since a wide hand is commoner
// than odd feet and its common part widens the form as well; a narrower one
// first to the reading, then to the feet.
func (c *ChannelCalibration) sides(all []sided) {
	base := human.Published(c.Channel)
	var want, own, forms [human.FeatureCount]float64
	ratio, told := 0.0, 0.0
	for f := range human.FeatureCount {
		m := &c.Measures[f]
		want[f] = base.Side[f]*base.Side[f] + 2*(1-base.Common)*base.Reading[f]*base.Reading[f]
		own[f], forms[f] = sideVariance(all, f)
		m.SidePublished, m.SideOwn, m.ReadingPublished = math.Sqrt(want[f]), ownSide(own[f], int(forms[f])), base.Reading[f]
		if forms[f] > 0 {
			ratio += forms[f] * own[f] / want[f]
			told += forms[f]
		}
	}
	pooled := (priorForms*human.FeatureCount + ratio) / (priorForms*human.FeatureCount + told)
	for f := range human.FeatureCount {
		m := &c.Measures[f]
		v := pooled * want[f]
		if forms[f] > 0 {
			v = (priorForms*v + forms[f]*own[f]) / (priorForms + forms[f])
		}
		fitSides(&c.used, f, &base, v)
		m.SideUsed, m.ReadingUsed = math.Sqrt(v), c.used.Reading[f]
	}
	k := math.Sqrt(math.Max(0.25, pooled))
	c.used.LegReading, c.used.HeightMark = base.LegReading*k, base.HeightMark*k
}

// fitSides sets reading error and side difference of a measure so that left minus
// right has variance v.
func fitSides(m *human.Measuring, f int, base *human.Measuring, v float64) {
	apart := 2 * (1 - base.Common)
	least := base.Reading[f] * base.Reading[f] / 4
	r := math.Max(least, (v-base.Side[f]*base.Side[f])/apart)
	m.Reading[f] = math.Sqrt(r)
	m.Side[f] = math.Sqrt(math.Max(v/4, v-apart*r))
}

// sideVariance is the trimmed variance, mm², of left minus right of a measure,
// less the rounding's, and the number of forms.
func sideVariance(all []sided, f int) (v, n float64) {
	var d []float64
	rounding := 0.0
	for _, x := range all {
		l, r := math.Exp(x.l[f]), math.Exp(x.l[human.FeatureCount+f])
		if math.IsNaN(l - r) {
			continue
		}
		d = append(d, math.Abs(l-r))
		rounding += x.step * x.step / 6
	}
	if len(d) == 0 {
		return math.NaN(), 0
	}
	slices.Sort(d)
	keep := d[:len(d)-int(trimmed*float64(len(d)))]
	for _, x := range keep {
		v += x * x
	}
	v /= float64(len(keep))
	if len(keep) < len(d) {
		v /= 0.8734 // mean square of a standard normal within its middle 98 %
	}
	return math.Max(0.1, v-rounding/float64(len(d))), float64(len(d))
}
