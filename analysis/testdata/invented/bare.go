package invented

import (
	"sync"
	"testing"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// Bare is n orders shipped a day apart, the youngest 500 days before the as-of
// day, all clean, none remade.
func Bare(n int) *cohort.Cohort {
	c, _ := Workshop{Orders: n, Intercept: -3, Seed: 1}.Make()
	for i := range n {
		c.Shipped[i] = c.AsOf - 500 - cohort.Day(n) + cohort.Day(i)
		c.Received[i] = c.Shipped[i] - 40
		c.Remade[i], c.Returned[i] = cohort.NoDay, cohort.NoDay
		c.ShaftMM[i], c.Channel.Code[i] = 300, 1
		c.CutNo[i], c.CalledBack[i] = 1, false
		for f := range form.Faults {
			c.Cut[f][i], c.First[f][i] = form.Without, form.Without
		}
		c.Zone.Code[i], c.Cause.Code[i] = 0, 0
	}
	return c
}

// Remake has order i remade so many days after it was shipped.
func Remake(c *cohort.Cohort, i int, days cohort.Day) { c.Remade[i] = c.Shipped[i] + days }

// Long skips a test that is about numbers, not about concurrency or crashes.
func Long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("long: run without -short")
	}
}

// Shops runs one function a shop on two workers: the k-th of n, with its seed.
func Shops(n, firstSeed int, one func(k int, seed uint64)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Go(func() {
			for k := range next {
				one(k, uint64(firstSeed+k))
			}
		})
	}
	for k := range n {
		next <- k
	}
	close(next)
	wg.Wait()
}
