package remakes

import (
	"flag"
	"math"
	"testing"
	"time"
)

var workshops = flag.Int("workshops", 40, "workshops to simulate in TestAdjustedEffectsOnKnownTruth")

func TestScratch(t *testing.T) {
	_, big := workshop{orders: 200_000, remakes: -3.1, seed: 999}.make()
	type acc struct {
		n, cover, crude, finding int
		bias, b2, se             float64
		crudeBias                float64
		crudeN                   int
	}
	var as [13]acc
	start := time.Now()
	for k := range *workshops {
		c, _ := workshop{orders: 3000, remakes: -3.1, seed: uint64(k + 1)}.make()
		d := Faults(c, Options{Replicates: 200, Seed: 1})
		if k == 0 {
			t.Log(d.MatureOrders, d.Remade, d.Maturity.Days, d.Model, time.Since(start))
		}
		for f, x := range d.Faults {
			a := &as[f]
			if e := x.RiskDifference; e.Given() {
				a.crudeN++
				if e.Low <= big.difference(f) && big.difference(f) <= e.High {
					a.crude++
				}
				a.crudeBias += e.Point - big.difference(f)
			}
			e := x.AdjustedRD
			if !e.Given() {
				if k < 2 {
					t.Log(x.Fault, e.Warnings)
				}
				continue
			}
			a.n++
			if e.Low <= big.difference(f) && big.difference(f) <= e.High {
				a.cover++
			}
			if x.Finding {
				a.finding++
			}
			b := e.Point - big.difference(f)
			a.bias += b
			a.b2 += b * b
			a.se += (e.High - e.Low) / 3.92
		}
	}
	for f, a := range as {
		if a.n == 0 {
			continue
		}
		n := float64(a.n)
		sd := math.Sqrt(a.b2/n - a.bias/n*a.bias/n)
		t.Logf("%-22s truth %.4f  n %d cover %.3f bias/sd %+.3f se/sd %.3f find %.2f | crude cover %.2f bias/sd %+.2f", cohortID(f), big.difference(f), a.n, float64(a.cover)/n, a.bias/n/sd, a.se/n/sd, float64(a.finding)/n, float64(a.crude)/float64(a.crudeN), a.crudeBias/float64(a.crudeN)/sd)
	}
	t.Log(time.Since(start))
}
