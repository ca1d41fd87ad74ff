package regression

import (
	"lastroom/analysis/regression/sparse"
	"math"
	"slices"
)

// leastGroups is how many groups, of equal size or in effect, a second grouping
// needs: the variance by fewer is so uncertain that widening for it is noise
// (judgement).
const leastGroups = 10

// What is too rare to be a column of its own.
const (
	leastWith    = 5  // subjects with an exposure
	leastMended  = 10 // subjects in whom an exposure was mended
	leastUnknown = 20 // subjects in whom an exposure is unknown
)

// A Level is what is known of an exposure in a subject.
type Level uint8

// The levels of an exposure.
const (
	Clean Level = iota
	With
	Mended // it had the exposure, and was rid of it before it was at risk
	Unknown
	NotAtRisk
)

// NoDay is the day of an event that is there without one: by the end of
// follow-up it had been reported. It says nothing of how late reports come.
const NoDay = math.MinInt

// Subjects are the rows that a model is made from.
type Subjects struct {
	N       int
	Age     func(i int) int                   // days for which it has been followed
	Event   func(i int) (day int, there bool) // day after entry on which the event was reported, or NoDay
	Cluster []int32                           // dense codes; subjects of one are not independent
	// Second are dense codes of another grouping that crosses the first, as who
	// measured does who wears; nil for none. Intervals are widened for it.
	Second []int32
	Keep   func(i int) bool // which go in; nil for all
	// Edges are the ages, ascending, at which follow-up is cut. A subject
	// younger than the first is left out.
	Edges []int
}

// A Term is a covariate with a few distinct values: a code for each subject,
// and for each code the values of its columns.
type Term struct {
	Names  []string // one a column
	Values [][]float64
	Code   func(i int) int // index into Values
}

// An Exposure is what effects are asked of. It gets a column of its own, one
// where it was mended and one where it is unknown, each where it is common
// enough; with Apart none, so that it can be added alone ([Columns]).
type Exposure struct {
	Name  string
	Level func(i int) Level
	Apart bool
}

// A Design is covariate patterns, rows of a sparse matrix.
type Design struct {
	Names   []string // of the columns, the intercept first
	Edges   []int    // ages in days at which follow-up is cut
	Subject []int32  // which subjects are in
	Cluster []int32  // per subject that is in: its cluster, renumbered from 0

	Clusters int

	terms int // columns of the intercept and the terms, which stand first

	// The second grouping, and where both meet, in dense codes, -1 in a group of
	// which all are in one cluster; nil for none.
	second, both []int32

	// Columns with a 1, but for the intercept: per pattern those of the terms from
	// from to base, then those of the exposures to all.
	ones            []uint16
	from, base, all []int32
	shapes          []sparse.Shape
	series          []sparse.Series // one a term that has shapes
	shape           []int32         // per pattern and series, into shapes
	age             []uint8         // per pattern: index into Edges of the age it was followed to

	level                        [][]Level // [exposure][pattern]
	withCol, mendedCol, blankCol []int     // per exposure; -1: none

	slot   []int32 // per subject that is in: 2*pattern, +1 with an event
	delays []delay // per event that has a day
}

// A delay is an event's: the index of the edge by which it was reported, and of
// the edge its subject was followed to.
type delay struct {
	subject            int32 // among those that are in
	reported, followed uint8
}

// HasColumn reports whether exposure e is common enough for a column.
func (d *Design) HasColumn(e int) bool { return d.withCol[e] >= 0 }

// Patterns is the number of covariate patterns.
func (d *Design) Patterns() int { return len(d.from) }

// Pattern is the pattern of the k-th subject that is in.
func (d *Design) Pattern(k int) int { return int(d.slot[k] / 2) }

// Levels are the levels of exposure e, one a pattern.
func (d *Design) Levels(e int) []Level { return d.level[e] }

// Horizon is the last edge that any subject was followed to; 0 without any.
func (d *Design) Horizon() int {
	last := 0
	for _, a := range d.age {
		last = max(last, d.Edges[a])
	}
	return last
}

// A meeting is of a cluster with a group of the second grouping; before is 1 + the one
// that the cluster had before it, 0 for none.
type meeting struct{ group, before int32 }

// NewDesign builds the patterns in one pass over the subjects.
func NewDesign(s Subjects, terms []Term, exposures []Exposure) *Design {
	d := &Design{Edges: s.Edges, Names: []string{"intercept"}, level: make([][]Level, len(exposures))}
	for _, t := range terms {
		d.Names = append(d.Names, t.Names...)
	}
	d.terms = len(d.Names)
	columns := d.columnsOf(terms)
	exposed := d.exposureColumns(s.N, exposures)
	seen := make(map[patternKey]int32, 1024)
	clusters := renumber(s.Cluster)
	groups, many := renumber(s.Second), int32(0)
	var meets []meeting
	last := make([]int32, 0, len(clusters)) // per cluster: 1 + its last meeting; 0: none yet
	d.slot, d.Subject, d.Cluster = make([]int32, 0, s.N), make([]int32, 0, s.N), make([]int32, 0, s.N)
	levels := make([]Level, len(exposures))
	for i := range s.N {
		age := d.followed(s.Age(i))
		if age < 0 || s.Keep != nil && !s.Keep(i) {
			continue
		}
		for e := range levels {
			levels[e] = exposed[e][i]
		}
		k := key(i, uint8(age), terms, levels)
		p, ok := seen[k]
		if !ok {
			p = int32(len(d.from))
			seen[k] = p
			d.addPattern(i, columns, levels, uint8(age))
		}
		c := clusters[s.Cluster[i]]
		if c < 0 {
			c = int32(d.Clusters)
			clusters[s.Cluster[i]] = c
			d.Clusters++
			last = append(last, 0)
		}
		slot := 2 * p
		// What is reported after the edge a subject is followed to does not
		// count yet.
		if day, there := s.Event(i); there && day <= d.Edges[age] {
			slot++
			if day != NoDay {
				reported, _ := slices.BinarySearch(d.Edges, max(0, day))
				d.delays = append(d.delays, delay{int32(len(d.slot)), uint8(reported), uint8(age)})
			}
		}
		if s.Second != nil {
			g := groups[s.Second[i]]
			if g < 0 {
				g = many
				groups[s.Second[i]] = g
				many++
			}
			at := last[c]
			for at > 0 && meets[at-1].group != g {
				at = meets[at-1].before
			}
			if at == 0 {
				meets = append(meets, meeting{g, last[c]})
				at = int32(len(meets))
				last[c] = at
			}
			d.second, d.both = append(d.second, g), append(d.both, at-1)
		}
		d.slot, d.Subject, d.Cluster = append(d.slot, slot), append(d.Subject, int32(i)), append(d.Cluster, c)
	}
	d.arrange()
	d.passOverOwn()
	if inEffect(d.second) < leastGroups {
		d.second, d.both = nil, nil
	}
	return d
}

// passOverOwn takes the groups out of the second grouping that lie within one
// cluster, as a customer's who measures at home: they tell nothing that the cluster
// doesn't, and thousands of them would make a few real groups look like many.
func (d *Design) passOverOwn() {
	const none, several = -1, -2
	var first []int32 // by group, in the order of their numbers: its first cluster
	for k, g := range d.second {
		if int(g) == len(first) {
			first = append(first, none)
		}
		switch c := d.Cluster[k]; first[g] {
		case none:
			first[g] = c
		case c:
		default:
			first[g] = several
		}
	}
	for k, g := range d.second {
		if first[g] != several {
			d.second[k], d.both[k] = -1, -1
		}
	}
}

// inEffect is the number of groups of equal size that weigh as much as those of
// the codes, -1 aside: the square of the sum over the sum of squares, after Kish L (1992) J Off
// Stat 8(2), who has it for weights.
func inEffect(codes []int32) float64 {
	sizes, all, squares := map[int32]int{}, 0, 0
	for _, c := range codes {
		if c >= 0 {
			sizes[c]++
			all++
		}
	}
	for _, n := range sizes {
		squares += n * n
	}
	return float64(all) * float64(all) / float64(max(1, squares))
}

// exposureColumns gives each exposure its columns. It returns the level of each
// exposure in each subject; of one that is not common enough to be looked at at all,
// Clean.
func (d *Design) exposureColumns(subjects int, exposures []Exposure) [][]Level {
	none := slices.Repeat([]int{-1}, len(exposures))
	d.withCol, d.mendedCol, d.blankCol = none, slices.Clone(none), slices.Clone(none)
	column := func(name string) int {
		d.Names = append(d.Names, name)
		return len(d.Names) - 1
	}
	levels := make([][]Level, len(exposures))
	for e, x := range exposures {
		levels[e] = make([]Level, subjects)
		var n [NotAtRisk + 1]int
		for i := range subjects {
			l := x.Level(i)
			levels[e][i] = l
			n[l]++
		}
		if n[With] < leastWith || n[Clean]+n[Mended] == 0 {
			clear(levels[e])
			continue
		}
		if x.Apart {
			continue
		}
		d.withCol[e] = column(x.Name)
		if n[Mended] >= leastMended {
			d.mendedCol[e] = column(x.Name + " mended")
		}
		if n[Unknown] >= leastUnknown {
			d.blankCol[e] = column(x.Name + " unknown")
		}
	}
	return levels
}

// renumber makes room for a new number for each of the dense codes; -1: none
// yet.
func renumber(codes []int32) []int32 {
	n := int32(0)
	for _, k := range codes {
		n = max(n, k+1)
	}
	return slices.Repeat([]int32{-1}, int(n))
}

// followed is the index of the last edge within the age, -1 if none.
func (d *Design) followed(age int) int {
	k := -1
	for k+1 < len(d.Edges) && d.Edges[k+1] <= age {
		k++
	}
	return k
}

// patternKey is what the model sees of a subject, packed: three bits an
// exposure, so 21 of them at most.
type patternKey struct{ about, exposed uint64 }

func key(i int, age uint8, terms []Term, levels []Level) patternKey {
	k := patternKey{about: uint64(age)}
	for _, t := range terms {
		k.about = k.about*uint64(len(t.Values)) + uint64(t.Code(i))
	}
	for _, l := range levels {
		k.exposed = k.exposed<<3 | uint64(l)
	}
	return k
}

// addExposures ends a pattern's row with the columns of its exposures.
func (d *Design) addExposures(levels []Level) {
	for e, l := range levels {
		d.level[e] = append(d.level[e], l)
		col := -1
		switch l {
		case With:
			col = d.withCol[e]
		case Mended:
			col = d.mendedCol[e]
		case Unknown:
			col = d.blankCol[e]
		}
		if col >= 0 {
			d.ones = append(d.ones, uint16(col))
		}
	}
	d.all = append(d.all, int32(len(d.ones)))
}

// A coded term is one as rows have it: by code a shape, or the column with a 1, -1
// for none.
type coded struct {
	code   func(i int) int
	shapes int     // its first shape; -1: it has none
	column []int32 // nil where it has shapes
}

// columnsOf says how rows have the terms, and makes their shapes.
func (d *Design) columnsOf(terms []Term) []coded {
	list := make([]coded, len(terms))
	at := 1
	for k, t := range terms {
		x := coded{t.Code, -1, make([]int32, len(t.Values))}
		for code, values := range t.Values {
			x.column[code] = -1
			for j, v := range values {
				switch {
				case v == 1 && x.column[code] < 0:
					x.column[code] = int32(at + j)
				case v != 0:
					x.shapes = len(d.shapes)
				}
			}
		}
		if x.shapes >= 0 {
			for _, values := range t.Values {
				d.shapes = append(d.shapes, sparse.Shape{Column: at, Values: values})
			}
			d.series = append(d.series, sparse.Series{First: x.shapes, End: len(d.shapes)})
			x.column = nil
		}
		list[k] = x
		at += len(t.Names)
	}
	return list
}

func (d *Design) addPattern(i int, terms []coded, levels []Level, age uint8) {
	d.from = append(d.from, int32(len(d.ones)))
	for _, t := range terms {
		code := t.code(i)
		if t.shapes >= 0 {
			d.shape = append(d.shape, int32(t.shapes+code))
		} else if c := t.column[code]; c >= 0 {
			d.ones = append(d.ones, uint16(c))
		}
	}
	d.base = append(d.base, int32(len(d.ones)))
	d.addExposures(levels)
	d.age = append(d.age, age)
}

// Split parts the patterns by one more exposure, one level a subject (by its
// own number, not by its place among those that are in). The design it gives
// shares columns, clusters and delays with d; its levels are returned beside it.
func (d *Design) Split(level func(subject int) Level) (*Design, []Level) {
	s := *d
	s.from, s.base, s.all, s.age, s.shape, s.slot, s.level = nil, nil, nil, nil, nil, make([]int32, len(d.slot)), make([][]Level, len(d.level))
	const kinds = int32(NotAtRisk) + 1
	at := make([]int32, int(kinds)*d.Patterns()) // 1 where there is such a pattern and level; then its new number
	for k, slot := range d.slot {
		s.slot[k] = kinds*(slot/2) + int32(level(int(d.Subject[k])))
		at[s.slot[k]] = 1
	}
	var levels []Level
	for key, there := range at {
		if there == 0 {
			continue
		}
		at[key] = int32(len(levels))
		p := int32(key) / kinds
		s.from, s.base, s.all, s.age = append(s.from, d.from[p]), append(s.base, d.base[p]), append(s.all, d.all[p]), append(s.age, d.age[p])
		s.shape = append(s.shape, d.shapesOf(int(p))...)
		for e := range d.level {
			s.level[e] = append(s.level[e], d.level[e][p])
		}
		levels = append(levels, Level(int32(key)%kinds))
	}
	for k, slot := range d.slot {
		s.slot[k] = 2*at[s.slot[k]] + slot%2
	}
	return &s, levels
}

// Restate gives the same subjects and columns with other levels of the
// exposures: what would be said of a subject that had them. levels are of
// exposure e in a subject, by its own number. Only [Linearization.Contrast] may
// ask about it: its weights are not those of a fit.
func (d *Design) Restate(level func(e, subject int) Level) *Design {
	s := *d
	s.level = make([][]Level, len(d.level))
	s.part(d, level)
	return &s
}

// Expose gives the same subjects and terms with these exposures in place of those of
// d: what NewDesign would make of them, without looking at the terms again.
func (d *Design) Expose(subjects int, exposures []Exposure) *Design {
	s := *d
	s.Names, s.level = slices.Clone(d.Names[:d.terms]), make([][]Level, len(exposures))
	exposed := s.exposureColumns(subjects, exposures)
	s.part(d, func(e, subject int) Level { return exposed[e][subject] })
	return &s
}

// part makes the patterns of d anew by the levels of the exposures of s.
func (s *Design) part(d *Design, level func(e, subject int) Level) {
	s.from, s.base, s.all, s.age, s.shape = nil, nil, nil, nil, nil
	s.ones = make([]uint16, 0, 2*len(d.ones))
	s.slot = make([]int32, len(d.slot))
	first := slices.Repeat([]int32{-1}, d.Patterns()) // the first new pattern made of an old one
	var others []int32                                // per new pattern: the next one of the same old one
	var packed []uint64                               // and its levels, as in a patternKey
	levels := make([]Level, len(s.level))
	for k, slot := range d.slot {
		p, exposed := slot/2, uint64(0)
		for e := range levels {
			levels[e] = level(e, int(d.Subject[k]))
			exposed = exposed<<3 | uint64(levels[e])
		}
		n := first[p]
		for n >= 0 && packed[n] != exposed {
			n = others[n]
		}
		if n < 0 {
			n = int32(len(s.from))
			others, packed = append(others, first[p]), append(packed, exposed)
			first[p] = n
			s.from = append(s.from, int32(len(s.ones)))
			s.ones, s.shape = append(s.ones, d.ones[d.from[p]:d.base[p]]...), append(s.shape, d.shapesOf(int(p))...)
			s.base = append(s.base, int32(len(s.ones)))
			s.addExposures(levels)
			s.age = append(s.age, d.age[p])
		}
		s.slot[k] = 2*n + slot%2
	}
	s.arrange()
}

// Age is the index of the edge that a pattern was followed to.
func (d *Design) Age(pattern int) int { return int(d.age[pattern]) }

// rows are the patterns as one model has them.
func (d *Design) rows(c Columns) sparse.Rows {
	x := sparse.Rows{P: len(d.Names), Ones: d.ones, From: d.from, Ends: d.base, Shapes: d.shapes, Series: d.series, Shape: d.shape}
	if c.Exposures {
		x.Ends = d.all
	}
	if c.Added == nil {
		return x
	}
	y := x
	y.P, y.Ones, y.From, y.Ends = x.P+2, make([]uint16, 0, len(d.ones)), make([]int32, len(d.from)), make([]int32, len(d.from))
	for i, l := range c.Added {
		y.From[i] = int32(len(y.Ones))
		y.Ones = append(y.Ones, x.Of(i)...)
		switch l {
		case With:
			y.Ones = append(y.Ones, uint16(x.P))
		case Unknown:
			y.Ones = append(y.Ones, uint16(x.P+1))
		}
		y.Ends[i] = int32(len(y.Ones))
	}
	return y
}

// shapesOf are the numbers of a pattern's shapes.
func (d *Design) shapesOf(pattern int) []int32 {
	n := len(d.series)
	return d.shape[pattern*n : (pattern+1)*n]
}

// stretch is how many patterns are put in order at a time: orders that come one after
// another have patterns that stay near each other in memory.
const stretch = 4096

// arrange puts patterns of as many ones, and of the same age, next to each other: a
// pass over patterns that takes the same way again and again is much quicker.
func (d *Design) arrange() {
	key := func(i int) int { return int(d.all[i]-d.from[i])*len(d.Edges) + int(d.age[i]) }
	order, to := make([]int32, d.Patterns()), make([]int32, d.Patterns())
	var next []int32 // by key: the place of the next pattern with it
	for first := 0; first < len(order); first += stretch {
		end := min(first+stretch, len(order))
		next = append(next[:0], int32(first))
		for i := first; i < end; i++ {
			for len(next) <= key(i)+1 {
				next = append(next, 0)
			}
			next[key(i)+1]++
		}
		for k := 1; k < len(next); k++ {
			next[k] += next[k-1]
		}
		for i := first; i < end; i++ {
			k := key(i)
			to[i] = next[k]
			order[next[k]] = int32(i)
			next[k]++
		}
	}
	from := *d
	d.ones, d.from, d.base, d.all = make([]uint16, 0, len(from.ones)), make([]int32, len(order)), make([]int32, len(order)), make([]int32, len(order))
	d.shape, d.age = make([]int32, 0, len(from.shape)), make([]uint8, len(order))
	for at, i := range order {
		d.from[at] = int32(len(d.ones))
		d.ones = append(d.ones, from.ones[from.from[i]:from.all[i]]...)
		d.base[at] = d.from[at] + from.base[i] - from.from[i]
		d.all[at] = int32(len(d.ones))
		d.shape, d.age[at] = append(d.shape, from.shapesOf(int(i))...), from.age[i]
	}
	for e, levels := range d.level {
		d.level[e] = make([]Level, len(order))
		for at, i := range order {
			d.level[e][at] = levels[i]
		}
	}
	for k, slot := range d.slot {
		d.slot[k] = 2*to[slot/2] + slot%2
	}
}
