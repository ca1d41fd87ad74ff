package rules

import (
	"math"
	"slices"

	"lastroom/analysis/regression"
)

// A cover is what each rule would hold and mend, by groups of first forms: those
// of a group are held by the same rules and have the same faults. A form that
// several chosen rules hold is called about once, and what any of them mends is
// mended.
type cover struct {
	first []int32  // by group: its entries in a table of falls
	parts [][]part // by rule
}

// A part is a group that a rule holds; mends are bits of the entry's number.
type part struct {
	group int
	mends uint32
}

// An aim is what a set of rules is to be best at: perFall for each remake
// avoided, less perCall for each form held, with at most `most` of them held.
type aim struct{ perFall, perCall, most float64 }

// A search looks for the best set of rules by branch and bound: rules are taken
// in and left out in turn, and a branch is cut where even the most that the rules
// not decided yet could add does not better the best set so far. For a group that
// most is its best entry among those still within reach, each group by itself;
// and, of forms not held yet, less the price of the room that they take of the
// budget (a Lagrange multiplier, so the bound holds at any price).
//
// Nemhauser GL, Wolsey LA (1988), Integer and Combinatorial Optimization, II.4.2
// (branch and bound) and II.3.6 (Lagrangian bounds).
type search struct {
	*cover
	aim
	must  int   // so many of the first in order are in every set
	order []int // rules in the order in which they are decided

	groups       []group
	worth, reach []float64 // by entry: what it is worth, and the best of its subsets
	later        [][]uint32
	price        float64

	in    []int
	saved []uint32

	best  float64
	found []int
	nodes int
}

// A group is what the search knows of a group of the cover, side by side since the
// bounds of each branch need it all.
type group struct {
	first  int32 // of its entries
	last   int32 // the last place in order that holds it; -1: none
	held   int32 // at this branch: by how many of the rules taken in
	mended uint32
	count  float64
	call   float64 // the price of calling about it, without and with the price of the room
	priced float64
}

// mostBranches ends a search that would take too long: half a minute or so. The
// few dozen rules of a shop take some thousands.
const mostBranches = 20_000_000

// bestSet is the set of rules that reaches the aim best on a table of falls, by
// their places, and whether it is proven to be. Those in must are in it; greedy
// tells where the search started.
func (v *cover) bestSet(f regression.Falls, a aim, must []int) (set []int, exact bool) {
	greedy := v.greedy(f, a, must)
	s := v.newSearch(f, a, must, greedy)
	s.found, s.best = slices.Clone(greedy), v.value(f, a, greedy)
	if held := s.begin(); held <= a.most {
		value, bound, priced := s.start()
		s.branch(s.must, value, held, bound, priced)
	}
	set = s.found
	for k := len(set) - 1; k >= 0; k-- { // what adds nothing is not recommended
		without := slices.Delete(slices.Clone(set), k, k+1)
		if !slices.Contains(must, set[k]) && v.value(f, a, without) >= s.best-s.slack() {
			set = without
		}
	}
	slices.Sort(set)
	return set, s.nodes < mostBranches
}

// entries are the entries that a set of rules takes of the groups; -1 where it
// does not hold the group.
func (v *cover) entries(set []int) []int {
	at := slices.Repeat([]int{-1}, len(v.first))
	mends := make([]uint32, len(v.first))
	for _, r := range set {
		for _, p := range v.parts[r] {
			mends[p.group] |= p.mends
			at[p.group] = int(v.first[p.group]) + int(mends[p.group])
		}
	}
	return at
}

// sum is what a set of rules holds and avoids on a table.
func (v *cover) sum(f regression.Falls, set []int) (held, avoided float64) {
	for g, e := range v.entries(set) {
		if e >= 0 {
			held += f.Count[g]
			avoided += f.Fall[e]
		}
	}
	return held, avoided
}

func (v *cover) value(f regression.Falls, a aim, set []int) float64 {
	held, avoided := v.sum(f, set)
	return a.perFall*avoided - a.perCall*held
}

// greedy takes in, one after another, the rule that adds most for each form more
// that it holds, or most by itself where there is no budget; while it adds
// anything and fits the budget.
func (v *cover) greedy(f regression.Falls, a aim, must []int) []int {
	set := slices.Clone(must)
	value := v.value(f, a, set)
	held, _ := v.sum(f, set)
	for {
		next, best, nextHeld, nextValue := -1, 0.0, 0.0, 0.0
		for r := range v.parts {
			if slices.Contains(set, r) {
				continue
			}
			with := append(slices.Clone(set), r)
			h, avoided := v.sum(f, with)
			w := a.perFall*avoided - a.perCall*h
			if h > a.most || w <= value {
				continue
			}
			score := w - value
			if !math.IsInf(a.most, 1) {
				score /= math.Max(h-held, 1e-9)
			}
			if score > best {
				next, best, nextHeld, nextValue = r, score, h, w
			}
		}
		if next < 0 {
			return set
		}
		set, held, value = append(set, next), nextHeld, nextValue
	}
}

func (v *cover) newSearch(f regression.Falls, a aim, must, greedy []int) *search {
	s := &search{cover: v, aim: a, must: len(must), order: slices.Clone(must),
		worth: make([]float64, len(f.Fall)), groups: make([]group, len(v.first))}
	for g, first := range v.first {
		s.groups[g] = group{first: first, last: -1, count: f.Count[g], call: a.perCall * f.Count[g]}
	}
	for _, list := range [][]int{greedy, v.byOwnWorth(f, a)} {
		for _, r := range list {
			if !slices.Contains(s.order, r) {
				s.order = append(s.order, r)
			}
		}
	}
	for e, fall := range f.Fall {
		s.worth[e] = a.perFall * fall
	}
	s.reach = slices.Clone(s.worth)
	for g, first := range v.first {
		end := len(s.reach)
		if g+1 < len(v.first) {
			end = int(v.first[g+1])
		}
		best := s.reach[first:end]
		for bit := 1; bit < len(best); bit <<= 1 {
			for m := range best {
				if m&bit != 0 {
					best[m] = math.Max(best[m], best[m^bit])
				}
			}
		}
	}
	s.later = make([][]uint32, len(s.order)+1)
	s.later[len(s.order)] = make([]uint32, len(v.first))
	for d := len(s.order) - 1; d >= 0; d-- {
		s.later[d] = slices.Clone(s.later[d+1])
		for _, p := range v.parts[s.order[d]] {
			s.later[d][p.group] |= p.mends
			s.groups[p.group].last = max(s.groups[p.group].last, int32(d))
		}
	}
	return s
}

// byOwnWorth are the rules, those worth most by themselves first.
func (v *cover) byOwnWorth(f regression.Falls, a aim) []int {
	worth := make([]float64, len(v.parts))
	for r := range v.parts {
		worth[r] = v.value(f, a, []int{r})
	}
	return ranked(worth)
}

// begin takes in what must be, and says how many forms that holds.
func (s *search) begin() (held float64) {
	for _, r := range s.order[:s.must] {
		s.in = append(s.in, r)
		for _, p := range s.parts[r] {
			g := &s.groups[p.group]
			if g.held == 0 {
				held += g.count
			}
			g.held++
			g.mended |= p.mends
		}
	}
	return held
}

// start finds the price at which the first bound is lowest, and gives the bounds
// without and with it.
func (s *search) start() (value, bound, priced float64) {
	held := 0.0
	for _, g := range s.groups {
		if g.held > 0 {
			value += s.worth[int(g.first)+int(g.mended)] - g.call
			held += g.count
		}
	}
	at := func(price float64) (sum float64) {
		s.price = price
		for k := range s.groups {
			g := &s.groups[k]
			g.priced = (s.perCall + price) * g.count
			_, term := s.terms(k, s.must)
			sum += term
		}
		return sum
	}
	bound = at(0)
	if math.IsInf(s.most, 1) {
		return value, bound, bound
	}
	high := 0.0
	for k, g := range s.groups {
		if g.count > 0 {
			term, _ := s.terms(k, s.must)
			high = math.Max(high, term/g.count)
		}
	}
	// The bound is convex in the price: thirds close in on its lowest point.
	low, room := 0.0, s.most-held
	for range 40 {
		a, b := low+(high-low)/3, high-(high-low)/3
		if at(a)+a*room < at(b)+b*room {
			high = b
		} else {
			low = a
		}
	}
	return value, bound, at((low + high) / 2)
}

// terms are the most that group k can be worth when the rules from place d on are
// not decided, without and with the price of the room.
func (s *search) terms(k, d int) (free, priced float64) {
	g := &s.groups[k]
	reach := s.reach[g.first+int32(g.mended|s.later[d][k])]
	switch {
	case g.held > 0:
		return reach - g.call, reach - g.call
	case g.last >= int32(d):
		return max(0, reach-g.call), max(0, reach-g.priced)
	}
	return 0, 0
}

// slack is a difference that is rounding.
func (s *search) slack() float64 { return 1e-9 * math.Max(1e-3, math.Abs(s.best)) }

// branch decides the rule at place d and all later ones. value and held are those
// of the rules taken in, bound and priced the sums of the terms at price 0 and at
// the search's price.
func (s *search) branch(d int, value, held, bound, priced float64) {
	s.nodes++
	if value > s.best+s.slack() {
		s.best, s.found = value, slices.Clone(s.in)
	}
	most := bound
	if s.price > 0 {
		most = math.Min(most, priced+s.price*(s.most-held))
	}
	if d == len(s.order) || most <= s.best+s.slack() || s.nodes >= mostBranches {
		return
	}
	r := s.order[d]
	leftBound, leftPriced := bound, priced
	for _, p := range s.parts[r] {
		free, priced := s.terms(p.group, d)
		leftBound -= free
		leftPriced -= priced
	}
	inBound, inPriced, inValue, inHeld := leftBound, leftPriced, value, held
	from := len(s.saved)
	for _, p := range s.parts[r] {
		free, priced := s.terms(p.group, d+1)
		leftBound += free
		leftPriced += priced
		g := &s.groups[p.group]
		if g.held == 0 {
			inHeld += g.count
			inValue -= g.call
		} else {
			inValue -= s.worth[int(g.first)+int(g.mended)]
		}
		s.saved = append(s.saved, g.mended)
		g.held++
		g.mended |= p.mends
		inValue += s.worth[int(g.first)+int(g.mended)]
		free, priced = s.terms(p.group, d+1)
		inBound += free
		inPriced += priced
	}
	if inHeld <= s.most {
		s.in = append(s.in, r)
		s.branch(d+1, inValue, inHeld, inBound, inPriced)
		s.in = s.in[:len(s.in)-1]
	}
	for k, p := range s.parts[r] {
		s.groups[p.group].held--
		s.groups[p.group].mended = s.saved[from+k]
	}
	s.saved = s.saved[:from]
	s.branch(d+1, value, held, leftBound, leftPriced)
}
