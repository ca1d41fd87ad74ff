package practice

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/stats"
)

func TestForetell(t *testing.T) {
	own := func(found, made int) Own {
		return Own{Sensitivity: stats.Wilson(found, 40, 0.95), Forms: 50, WithFault: made}
	}
	few := Foretell([]Own{own(20, 10), own(30, 5), {Forms: 3}})
	assert.False(t, few.Together.Given())
	assert.Equal(t, 2, few.Together.N)
	assert.Contains(t, few.Says, "Too few")
	assert.False(t, Foretell(nil).Together.Given())
	var list, other []Own
	for i := range 12 {
		list, other = append(list, own(20+i, 30-i)), append(other, own(20+i, 10+i))
	}
	list[0].WithFault = 25
	assert.Contains(t, Foretell(list).Says, "with fewer of them")
	other[0].WithFault = 15
	assert.Contains(t, Foretell(other).Says, "with more of them")
	// Just twenty faulty forms and just twenty own ones are enough.
	var just []Own
	for i := range 10 {
		just = append(just, Own{Sensitivity: stats.Wilson(5+i, enoughForms, 0.95), Forms: enoughForms, WithFault: 15 - i})
	}
	assert.Equal(t, 10, Foretell(just).Together.N)
	just[0].Forms--
	assert.False(t, Foretell(just).Together.Given())
	// Where practice tells nothing, it is seldom said to.
	r := rand.New(rand.NewPCG(9, 9))
	said := 0
	for range 400 {
		var none []Own
		for range 12 {
			none = append(none, own(15+r.IntN(20), r.IntN(30)))
		}
		said += count(Foretell(none).Says != "So far practice does not tell whose own forms will be good.")
	}
	assert.Less(t, float64(said)/400, 0.08) // asked 0.05, Monte Carlo error 0.011
}
