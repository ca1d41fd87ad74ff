package body

import "lastroom/analysis/form"

// A Batch is many forms in columns: End[i] is the index just past the last
// number of form i, so the numbers of a form lie together. Height is read for
// Leg only. Sex and Channel have one entry a form, the others one a number.
type Batch struct {
	End     []int
	Sex     []form.Sex
	Channel []form.Channel

	Side     []form.Side
	Clothing []form.Clothing
	Point    []form.Point
	Height   []float64
	MM       []float64
	Unit     []form.Unit
}

// Reset empties the batch and keeps its memory.
func (b *Batch) Reset() {
	b.End, b.Sex, b.Channel = b.End[:0], b.Sex[:0], b.Channel[:0]
	b.Side, b.Clothing, b.Point = b.Side[:0], b.Clothing[:0], b.Point[:0]
	b.Height, b.MM, b.Unit = b.Height[:0], b.MM[:0], b.Unit[:0]
}

// Add appends a number to the form that is being filled.
func (b *Batch) Add(n form.Number) {
	b.Side = append(b.Side, n.Side)
	b.Clothing = append(b.Clothing, n.Clothing)
	b.Point = append(b.Point, n.Point)
	b.Height = append(b.Height, float64(n.HeightMM))
	b.MM = append(b.MM, n.ValueMM)
	b.Unit = append(b.Unit, n.Unit)
}

// EndForm closes the form that is being filled.
func (b *Batch) EndForm(sex form.Sex, channel form.Channel) {
	b.End = append(b.End, len(b.MM))
	b.Sex = append(b.Sex, sex)
	b.Channel = append(b.Channel, channel)
}

// Len is the number of closed forms.
func (b *Batch) Len() int { return len(b.End) }
