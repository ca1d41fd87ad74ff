package body

import (
	"math"
	"slices"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// spreads compares the squared distances of whole forms with what the model,
// already with the shop's offsets and reading errors, expects: once for the
// core numbers, once for the leg girths given them.
func (c *ChannelCalibration) spreads(s form.Scheme, all []sided) {
	m := NewModel(s)
	m.measuring[c.Channel] = c.used
	var foot, leg []float64
	layouts := map[string]*layout{}
	for _, x := range all {
		var in intake
		for i := range x.form.Numbers {
			in.add(s, &x.form.Numbers[i], i)
		}
		spec := layoutSpec{codes: in.codes, sex: human.Known(x.form.Sex), channel: c.Channel, step: readingStep(in.mm, in.units)}
		key := string(spec.key(nil))
		lay, ok := layouts[key]
		if !ok && len(in.codes) > 0 {
			lay, _ = m.gaussLayout(spec)
			layouts[key] = lay
		}
		if lay == nil || lay.nCore < 2 {
			continue
		}
		q, beyond := lay.distances(in.mm)
		foot = append(foot, q/float64(lay.nCore))
		if more := len(lay.coords) - lay.nCore; more > 0 {
			leg = append(leg, math.Max(0, beyond)/float64(more))
		}
	}
	c.Spread = shrunkFactor(foot)
	c.Leg = shrunkFactor(leg)
	c.used.Inflate = c.Spread
	c.used.LegShape = math.Sqrt(c.Leg / c.Spread)
}

// distances are the squared distance of the core numbers and that of the
// others given them, for the sex that fits better.
func (lay *layout) distances(mm []float64) (core, beyond float64) {
	l, v := make([]float64, len(mm)), make([]float64, len(mm))
	for i, x := range mm {
		l[i] = math.Log(x)
	}
	best := math.Inf(-1)
	for k, g := range lay.full {
		p := g.Weigh(l, v)
		if p <= best {
			continue
		}
		best = p
		c := lay.core[k]
		core = 2 * (c.LogC - c.Weigh(l[:c.N], v[:c.N]))
		beyond = 2*(g.LogC-p) - core
	}
	return core, beyond
}

// shrunkFactor is the trimmed mean of squared distances a number, shrunk
// towards 1 by priorForms forms.
func shrunkFactor(q []float64) float64 {
	if len(q) < enoughForms {
		return 1
	}
	slices.Sort(q)
	keep := q[:len(q)-int(trimmed*float64(len(q)))]
	sum := 0.0
	for _, x := range keep {
		sum += x
	}
	n := float64(len(q))
	// 0.973: the mean that is left of a chi-square of 10-12 degrees when its widest 2 % go.
	mean := sum / float64(len(keep)) / 0.973
	return math.Min(4, math.Max(0.7, (priorForms+n*mean)/(priorForms+n)))
}

func quantile(x []float64, p float64) float64 {
	slices.Sort(x)
	return stats.Quantile7(x, p)
}
