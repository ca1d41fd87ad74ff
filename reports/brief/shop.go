package brief

import (
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/reports/page"
)

// A Shop is the workshop as its book tells it: the newest month that is over, and
// the orders that wait for somebody.
type Shop struct {
	AsOf  cohort.Day // the newest day in the book
	Month cohort.Month
	// Missing says what is needed before more can be said, nothing where all is there.
	Missing []string
	// What follows is empty where no pair was shipped.
	Lead     string
	Chart    page.Block
	Accounts Accounts
	Remade   []shop.Remake // of the month
	Ask      []shop.LookAt // cut with faults, no word yet, out long enough to tell
	Telling  int           // days from which on that is
	Uncut    []shop.LookAt // not cut yet, of a high risk
}

// ShopOf makes it. reports are those of orders shipped from From of the month to its
// end.
func ShopOf(c *cohort.Cohort, reports []shop.Report, costs rules.Costs, t monitoring.Trend, ahead []risk.OrderRisk, month cohort.Month) *Shop {
	s := &Shop{AsOf: c.AsOf, Month: month, Uncut: Ahead(ahead)}
	m := t.Monthly.Maturity
	s.Missing = Missing(c, m)
	if c.Len() == 0 {
		return s
	}
	s.Lead, s.Chart = Lead(t, month), RunChart(t.Monthly, month)
	s.Accounts = AccountsOf(c, reports, costs, t.Monthly, month)
	s.Remade = shop.Remakes(c, month)
	s.Telling = shop.Telling(c)
	s.Ask = shop.ToAsk(c, m, c.Shipped[0], c.AsOf-cohort.Day(s.Telling))
	return s
}

// enoughToCompare is how many pairs out long enough to tell a first finding takes;
// under it a fault that doubles the remakes is mostly missed.
const enoughToCompare = 300

// Missing says what the book needs before more can be told; nothing where all is there.
func Missing(c *cohort.Cohort, m remakes.Maturity) []string {
	answered, remade := 0, 0
	for i := range c.Shipped {
		if c.Answered[i] {
			answered++
		}
		if remakes.Event(c, i) {
			remade++
		}
	}
	switch {
	case c.Len() == 0:
		return []string{"The book holds no shipped pair yet. Load order sheets with the days on which the boots were shipped: everything else is counted from there."}
	case answered == 0:
		return []string{fmt.Sprintf("The book holds %s shipped, but no word on how they fit. Load the reports of fit too (kept, adjusted, remade, returned): without them nothing can be told.", page.Counted(c.Len(), "pair", "pairs"))}
	case m.Mature < remakes.LeastOrders:
		return []string{fmt.Sprintf("The book holds %s shipped, %s of them out long enough to tell (%d days). With %d such pairs the first share can be shown; until then look at single orders and keep noting faults on every form.",
			page.Counted(c.Len(), "pair", "pairs"), page.Thousands(m.Mature), m.Days, remakes.LeastOrders)}
	case m.Mature < enoughToCompare || remade < 10:
		return []string{fmt.Sprintf("%s out long enough to tell, %s made again: too few to say which faults go with remakes. From about %d pairs on that begins to show. Keep noting faults on every form, and ask how the boots fit.",
			page.Counted(m.Mature, "pair is", "pairs are"), page.Thousands(remade), enoughToCompare)}
	}
	return nil
}
