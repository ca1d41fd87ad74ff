package body

import (
	"strings"
	"sync"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// maxLayouts bounds the memory that sets of numbers take, at up to 250 kB each;
// beyond it all are forgotten and built again as they come.
const maxLayouts = 128

// A Model is the published joint model under a shop's scheme, with the
// shop's own calibration if there is one. It is safe for several goroutines.
type Model struct {
	scheme    form.Scheme
	measuring [form.ChannelCount]human.Measuring
	confirmed [form.ChannelCount]confirmed
	name      string
	basis     []string // channels with the shop's own values, in words

	mu      sync.RWMutex
	layouts map[string]*layout // nil where numbers can't be judged together
	drawn   map[string][2]tail // tails of core numbers that had to be simulated
	worlds  [3][form.ChannelCount][len(steps)]*human.World
}

// NewModel returns the model on published values alone.
func NewModel(s form.Scheme) *Model {
	m := &Model{scheme: s, name: "survey-2012/3", layouts: map[string]*layout{}, drawn: map[string][2]tail{}}
	for c := range form.ChannelCount {
		m.measuring[c] = human.Published(c)
	}
	return m
}

// published are models by their scheme.
var published sync.Map

// Published is NewModel with all that was worked out for the same scheme before: a
// service judges by it after each load, and what it needs for a set of numbers takes
// longer to work out than to judge by.
func Published(s form.Scheme) *Model {
	m, _ := published.LoadOrStore(s, NewModel(s))
	return m.(*Model)
}

// Name says which model judged a form; it changes whenever the judgements may.
func (m *Model) Name() string { return m.name }

// Basis says in words whose offsets and spreads the model stands on.
func (m *Model) Basis() string {
	if len(m.basis) == 0 {
		return "published values"
	}
	return "the shop's own values for " + strings.Join(m.basis, ", ") + "; published values otherwise"
}

// layout finds or builds the layout of a specification; nil where its numbers
// can't be judged. Building takes from a millisecond to a tenth of a second,
// once.
func (m *Model) layout(s layoutSpec, key []byte) *layout {
	m.mu.RLock()
	lay, ok := m.layouts[string(key)]
	m.mu.RUnlock()
	if ok {
		return lay
	}
	lay, ok = m.newLayout(s)
	if ok {
		m.setTails(s, lay)
	} else {
		lay = nil
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if first, ok := m.layouts[string(key)]; ok {
		return first
	}
	if len(m.layouts) >= maxLayouts {
		clear(m.layouts)
	}
	m.layouts[string(key)] = lay
	return lay
}

// world finds or makes the joint model of one sex, channel and step.
func (m *Model) world(sex form.Sex, channel form.Channel, step int) *human.World {
	m.mu.Lock()
	defer m.mu.Unlock()
	w := &m.worlds[sex][channel][step]
	if *w == nil {
		*w = human.NewWorld(sex, m.measuring[channel], steps[step])
	}
	return *w
}
