package remakes

import (
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// unlikeDelays checks the one thing the risk model takes for granted: that
// remakes are reported as early with the fault as without it. It compares the
// delays of remakes on orders followed to the Horizon (log-rank; nothing is
// censored) and warns at p under 0.01.
func unlikeDelays(c *cohort.Cohort, cut []form.State) string {
	var days [2][]int32
	var code [2][]uint8
	for i := range c.Shipped {
		if Age(c, i) < Horizon || !Dated(c, i) || cut[i] != form.With && cut[i] != form.Without {
			continue
		}
		g := 0
		if cut[i] == form.With {
			g = 1
		}
		days[g] = append(days[g], int32(c.Remade[i]-c.Shipped[i]))
		code[g] = append(code[g], 1)
	}
	if len(days[0]) < LeastOrders || len(days[1]) < LeastOrders {
		return ""
	}
	spells := [2][]stats.Spell{stats.GroupSpells(days[0], code[0]), stats.GroupSpells(days[1], code[1])}
	if test, _, _ := stats.LogRank(spells[:]...); !(test.P < 0.01) {
		return ""
	}
	with, without := stats.KaplanMeier(spells[1], level).Median(), stats.KaplanMeier(spells[0], level).Median()
	return fmt.Sprintf("remakes with this fault are reported after %.0f days, others after %.0f (medians): the share of young orders in this figure leans on equal delays", with.Point, without.Point)
}
