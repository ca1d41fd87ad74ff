package session

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
)

// TestWilliams: of every even number each ordered pair stands side by side once, of
// every odd one in both squares together twice (Williams EJ (1949) Australian Journal
// of Scientific Research A 2:149-168). The squares of three and the first row of ten,
// counted from 1, are those that the R package crossdes prints in the example of its
// function williams.
func TestWilliams(t *testing.T) {
	assert.Equal(t, [][]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}}, williams(3, false))
	assert.Equal(t, [][]int{{2, 1, 0}, {0, 2, 1}, {1, 0, 2}}, williams(3, true))
	assert.Equal(t, []int{0, 1, 9, 2, 8, 3, 7, 4, 6, 5}, williams(10, false)[0])
	for n := 1; n <= 31; n++ {
		squares := [][][]int{williams(n, false)}
		want := 1
		if n%2 == 1 {
			squares, want = append(squares, williams(n, true)), 2
		}
		pairs := map[[2]int]int{}
		for _, s := range squares {
			for j := range n {
				column := map[int]bool{}
				for i := range n {
					column[s[i][j]] = true
					if j > 0 {
						pairs[[2]int{s[i][j-1], s[i][j]}]++
					}
				}
				assert.Len(t, column, n, "each once in a column")
			}
		}
		assert.Len(t, pairs, n*(n-1))
		for pair, k := range pairs {
			assert.Equal(t, want, k, "n %d, %v", n, pair)
		}
	}
}

func plan(people, subjects, trials int) *Plan {
	p := &Plan{ID: "S1", Day: "2026-11-26", Instructor: "boss", Trials: trials, Unit: form.Inch, Spots: []Spot{{form.Ball, 0}, {form.Leg, 279.4}}}
	for i := range people {
		p.Measurers = append(p.Measurers, fmt.Sprint("m", i))
	}
	for i := range subjects {
		p.Subjects = append(p.Subjects, string(rune('A'+i)))
	}
	return p
}

// Everybody tapes everybody's legs once a trial, nobody two at a time, no two the
// same person's, and nobody the same twice in a row. A seed gives the same order.
func TestTurns(t *testing.T) {
	for people := 1; people <= 6; people++ {
		for subjects := 1; subjects <= 6; subjects++ {
			for trials := 1; trials <= 3; trials++ {
				p := plan(people, subjects, trials)
				p.Seed = uint64(people*100 + subjects*10 + trials)
				turns := p.Turns()
				assert.Equal(t, turns, p.Turns())
				require.Len(t, turns, (people+1)*subjects*trials)
				busy, taped, last := map[string]bool{}, map[string]bool{}, map[int]int{}
				for _, turn := range turns {
					for _, key := range []string{fmt.Sprint("p", turn.Period, turn.Person), fmt.Sprint("s", turn.Period, "/", turn.Subject)} {
						assert.False(t, busy[key], key)
						busy[key] = true
					}
					key := fmt.Sprint(turn.Person, turn.Subject, turn.Trial)
					assert.False(t, taped[key])
					taped[key] = true
					if before, ok := last[turn.Person]; ok && subjects > 2 {
						assert.NotEqual(t, before, turn.Subject, "%d people, %d legs", people, subjects)
					}
					last[turn.Person] = turn.Subject
				}
			}
		}
	}
	other := plan(4, 5, 2)
	first := other.Turns()
	other.Seed = 99
	assert.NotEqual(t, first, other.Turns())
}

// Of an odd number a square and its mirror image balance what one of them does not: in two trials each
// leg comes just after each other one twice (Williams 1949).
func TestTurnsOfAnOddNumberAreBalanced(t *testing.T) {
	for seed := range uint64(10) {
		p := plan(4, 5, 2)
		p.Seed = seed
		after := map[[2]int]int{}
		for person := range p.People() {
			turns := p.TurnsOf(person)
			for k, turn := range turns[1:] {
				if before := turns[k]; before.Trial == turn.Trial {
					after[[2]int{before.Subject, turn.Subject}]++
				}
			}
		}
		assert.Len(t, after, 5*4)
		for pair, times := range after {
			assert.Equal(t, 2, times, "%v", pair)
		}
	}
}

// As many people, and letters in a name, as are allowed, and one more.
func TestCheckAtItsBounds(t *testing.T) {
	require.NoError(t, plan(15, 16, 4).Check())
	require.Error(t, plan(16, 16, 4).Check())
	require.Error(t, plan(15, 17, 4).Check())
	p := plan(3, 3, 2)
	p.Subjects[0] = strings.Repeat("ä", 60)
	require.NoError(t, p.Check())
	p.Subjects[0] += "ä"
	require.Error(t, p.Check())
}

func TestCheck(t *testing.T) {
	require.NoError(t, plan(3, 3, 2).Check())
	for what, change := range map[string]func(*Plan){
		"short name": func(p *Plan) { p.ID = " " }, "instructor is": func(p *Plan) { p.Instructor = "" }, "people who measure": func(p *Plan) { p.Measurers = nil },
		"whose legs": func(p *Plan) { p.Subjects = nil }, "times by each": func(p *Plan) { p.Trials = 5 }, "places for the tape": func(p *Plan) { p.Spots = nil },
		"choose the unit": func(p *Plan) { p.Unit = form.NoUnit }, "measures twice": func(p *Plan) { p.Measurers[1] = "BOSS" }, "twice": func(p *Plan) { p.Subjects[1] = "a" },
		"1 to 60 letters": func(p *Plan) { p.Subjects[1] = "a\nb" }} {
		p := plan(3, 3, 2)
		change(p)
		require.ErrorContains(t, p.Check(), what)
	}
}

// A measurer who reads 3 mm more than the instructor on every leg: differences, the
// statistics and the sheet's rows all say so.
func TestNumbers(t *testing.T) {
	p := plan(2, 6, 2)
	var entries []Entry
	for _, turn := range p.Turns() {
		e := Entry{Person: turn.Person, Subject: turn.Subject, Trial: turn.Trial}
		for _, side := range form.Sides {
			for k := range p.Spots {
				v := 240 + 10*float64(turn.Subject) + 100*float64(k) + float64(turn.Trial)
				if turn.Person == 1 {
					v += 3
				}
				e.Readings = append(e.Readings, Reading{side, k, form.Inch.Text(v), v})
			}
		}
		entries = append(entries, e)
	}
	by := repeatability.ByMeasurer(p.Repeats(entries))
	require.Len(t, by["m0"], 2)
	assert.InDelta(t, 3, by["m0"][0].Bias.Point, 1e-9)
	assert.InDelta(t, math.Sqrt(0.5), by["m0"][0].TEM.Point, 1e-9) // two trials 1 mm apart: √(Σd²/2n)
	assert.InDelta(t, 0, by["m1"][1].Bias.Point, 1e-9)
	assert.NotContains(t, by, "boss")
	devs := p.Deviations(entries)
	assert.Len(t, devs, 2*6*2*2*2)
	sum := map[int]float64{}
	for _, d := range devs {
		sum[d.Person] += d.MM / 48
	}
	assert.InDelta(t, 3, sum[1], 1e-9)
	assert.InDelta(t, 0, sum[2], 1e-9)
	rows := p.Rows(entries)
	assert.Len(t, rows, 3*6*2*4)
	assert.Equal(t, []string{"S1", "boss", "1", "yes", "left", "ball", "", ""}, append([]string{rows[0][0]}, rows[0][2:9]...))
	assert.Equal(t, []string{"279.4", "mm"}, rows[1][7:9])
	assert.Len(t, rows[0], len(Columns))
	entries[0].Readings[0].Written = "24,3"
	assert.Contains(t, p.Rows(entries[:1])[0], "24.3")
	assert.Nil(t, Of(entries, Turn{Person: 9}))
}
