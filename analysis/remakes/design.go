package remakes

import (
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// What is too rare to be a term of the risk model of its own.
const (
	leastLevel  = 20 // orders of a level of a descriptor
	leastWith   = 5  // orders cut with a fault
	leastMended = 10 // mended orders of a fault
	leastBlank  = 20 // orders on which a fault is unknown
	maxHeights  = 64 // distinct shaft heights; more are rounded to 10 mm
	maxLevels   = 15 // levels of a descriptor
)

// The exposure codes of a fault in a pattern.
const (
	clean uint8 = iota
	withFault
	mended
	notKnown
	noRisk
)

// A design turns orders into covariate patterns: orders that look alike to the
// model are one row with a weight. Rows are sparse (column, value) lists:
// first the descriptors, up to ends; then the faults, up to all.
type design struct {
	terms       []string
	descriptors int // columns that are descriptors, the intercept first

	from, ends, all []int32 // per pattern, into col and val
	col             []uint16
	val             []float64

	age      []uint8   // per pattern: index into edges of the age it was followed to
	exposure [][]uint8 // [fault][pattern]
	extra    []uint8   // per pattern: 0 or 1, of the caller's own question

	slot      []int32 // per order in the fit: 2*pattern, +1 with an event
	order     []int32 // its cohort row
	customer  []int32 // its customer, renumbered from 0
	customers int

	edges []int // ages in days at which follow-up is cut
	// Per order with an event anywhere: its customer, the index of the edge by
	// which it was reported, the index of the edge it was followed to.
	delays []delay

	withCol, mendedCol, blankCol []int // per fault; -1: not in the model
	notes                        []string
}

type delay struct {
	customer           int32
	reported, followed uint8
}

func (d *design) patterns() int { return len(d.from) }

// designOptions choose what goes into the model.
type designOptions struct {
	faults bool // noted and counted faults
	time   bool // trend and season of shipping
	months bool // the trend by month, not by quarter
	// extra is a further yes/no column, one an order; nil for none.
	extra func(i int) bool
	// keep, if set, says which orders go in.
	keep func(i int) bool
}

// newDesign builds the patterns in one pass over the cohort.
func newDesign(c *cohort.Cohort, m Maturity, o designOptions) *design {
	d := &design{edges: ageEdges(m.Days)}
	ds := descriptors(c, o, &d.notes)
	d.terms = []string{"intercept"}
	for _, x := range ds {
		d.terms = append(d.terms, x.terms...)
	}
	d.descriptors = len(d.terms)
	keep := d.faultTerms(c, o)
	d.collect(c, o, ds, keep)
	return d
}

// ageEdges are the ages at which follow-up is cut: every 30 days, the day of
// maturity and the Horizon.
func ageEdges(mature int) []int {
	edges := []int{Horizon}
	for a := 30; a < Horizon; a += 30 {
		edges = append(edges, a)
	}
	if mature > 0 && mature < Horizon {
		edges = append(edges, mature)
	}
	slices.Sort(edges)
	return slices.Compact(edges)
}

// faultTerms gives each fault its columns, where it is common enough. Faults
// read off the numbers get none: they are added one at a time.
func (d *design) faultTerms(c *cohort.Cohort, o designOptions) (keep []bool) {
	n := len(form.Faults)
	keep = make([]bool, n)
	d.withCol, d.mendedCol, d.blankCol = filled(n, -1), filled(n, -1), filled(n, -1)
	if !o.faults {
		return keep
	}
	term := func(name string) int {
		d.terms = append(d.terms, name)
		return len(d.terms) - 1
	}
	for f, fault := range form.Faults {
		var n [5]int
		for i := range c.Shipped {
			n[exposureCode(c.Cut[f][i], c.First[f][i])]++
		}
		keep[f] = n[withFault] >= leastWith && n[withFault]+n[clean]+n[mended] > n[withFault]
		if fault.Kind == form.Evident || !keep[f] {
			continue
		}
		d.withCol[f] = term(fault.ID)
		if n[mended] >= leastMended {
			d.mendedCol[f] = term(fault.ID + " mended")
		}
		if n[notKnown] >= leastBlank {
			d.blankCol[f] = term(fault.ID + " unknown")
		}
	}
	return keep
}

func filled(n, v int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = v
	}
	return s
}

func exposureCode(cut, first form.State) uint8 {
	switch cut {
	case form.With:
		return withFault
	case form.NotAtRisk:
		return noRisk
	case form.Without:
		if first == form.With {
			return mended
		}
		return clean
	}
	return notKnown
}

// patternKey is what the model sees of an order, packed.
type patternKey struct{ about, faults uint64 }

// collect numbers the patterns and files every order under one.
func (d *design) collect(c *cohort.Cohort, o designOptions, ds []descriptor, keep []bool) {
	seen := make(map[patternKey]int32, 1024)
	customers := renumber(c.Customer)
	d.exposure = make([][]uint8, len(form.Faults))
	n := c.Len()
	d.slot, d.order, d.customer = make([]int32, 0, n), make([]int32, 0, n), make([]int32, 0, n)
	codes := make([]uint8, len(form.Faults))
	for i := range c.Shipped {
		age := d.followed(Age(c, i))
		if age < 0 || o.keep != nil && !o.keep(i) {
			continue // too young to have been followed to the first edge
		}
		k := d.key(c, i, o, ds, keep, codes, uint8(age))
		p, ok := seen[k]
		if !ok {
			p = int32(len(d.from))
			seen[k] = p
			d.addPattern(c, i, o, ds, codes, uint8(age))
		}
		cust := customers[c.Customer[i]]
		if cust < 0 {
			cust = int32(d.customers)
			customers[c.Customer[i]] = cust
			d.customers++
		}
		d.file(c, i, p, cust, age)
	}
}

// renumber makes room for a new number for each of the dense codes; -1: none
// yet.
func renumber(codes []int32) []int32 {
	n := int32(0)
	for _, k := range codes {
		n = max(n, k+1)
	}
	to := make([]int32, n)
	for k := range to {
		to[k] = -1
	}
	return to
}

// followed is the index of the last edge within the age, -1 if none.
func (d *design) followed(age int) int {
	k := -1
	for k+1 < len(d.edges) && d.edges[k+1] <= age {
		k++
	}
	return k
}

func (d *design) key(c *cohort.Cohort, i int, o designOptions, ds []descriptor, keep []bool, codes []uint8, age uint8) patternKey {
	k := patternKey{about: uint64(age)}
	for _, x := range ds {
		k.about = k.about*uint64(x.size) + uint64(x.code(i))
	}
	if o.extra != nil && o.extra(i) {
		k.faults = 1
	}
	if !o.faults {
		return k
	}
	for f := range codes {
		codes[f] = clean
		if keep[f] {
			codes[f] = exposureCode(c.Cut[f][i], c.First[f][i])
		}
		k.faults = k.faults<<3 | uint64(codes[f])
	}
	return k
}

func (d *design) addPattern(c *cohort.Cohort, i int, o designOptions, ds []descriptor, codes []uint8, age uint8) {
	put := func(col int, v float64) {
		if col >= 0 && v != 0 {
			d.col, d.val = append(d.col, uint16(col)), append(d.val, v)
		}
	}
	d.from = append(d.from, int32(len(d.col)))
	put(0, 1)
	at := 1
	for _, x := range ds {
		for k, v := range x.values[x.code(i)] {
			put(at+k, v)
		}
		at += len(x.terms)
	}
	d.ends = append(d.ends, int32(len(d.col)))
	if o.faults {
		for f, e := range codes {
			d.exposure[f] = append(d.exposure[f], e)
			switch e {
			case withFault:
				put(d.withCol[f], 1)
			case mended:
				put(d.mendedCol[f], 1)
			case notKnown:
				put(d.blankCol[f], 1)
			}
		}
	}
	d.all = append(d.all, int32(len(d.col)))
	d.age = append(d.age, age)
	var x uint8
	if o.extra != nil && o.extra(i) {
		x = 1
	}
	d.extra = append(d.extra, x)
}

// file puts order i under pattern p. A remake reported after the edge the
// order is followed to does not count yet.
func (d *design) file(c *cohort.Cohort, i int, p, customer int32, age int) {
	slot := 2 * p
	if Event(c, i) {
		reported := max(0, int(c.Remade[i]-c.Shipped[i]))
		if reported <= d.edges[age] {
			slot++
			k, _ := slices.BinarySearch(d.edges, reported)
			d.delays = append(d.delays, delay{customer, uint8(k), uint8(age)})
		}
	}
	d.slot, d.order, d.customer = append(d.slot, slot), append(d.order, int32(i)), append(d.customer, customer)
}
