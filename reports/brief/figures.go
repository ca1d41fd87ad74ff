package brief

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/reports/page"
)

// Accounts are a month and those it is held against, each at the same age and, the
// month itself, as it stands.
type Accounts struct {
	Now      shop.Month   // all that is known
	Age      int          // days after shipping at which all are looked at
	AtAge    []shop.Month // the month, the one before, the one a year before
	Currency string
}

// AccountsOf counts the months, at the age of the youngest pair of the month. reports
// are those of orders shipped in them; From says which those are.
func AccountsOf(c *cohort.Cohort, reports []shop.Report, costs rules.Costs, t monitoring.Monthly, month cohort.Month) Accounts {
	a := Accounts{Now: shop.Account(c, reports, costs, month, 0), Currency: costs.Currency, Age: int(c.AsOf - month.Last())}
	if mo := MonthOf(t, month); mo != nil {
		a.Age = mo.YoungestAge
	}
	a.Age = min(max(a.Age, 1), remakes.Horizon)
	for _, m := range []cohort.Month{month, month - 1, month - 12} {
		a.AtAge = append(a.AtAge, shop.Account(c, reports, costs, m, a.Age))
	}
	return a
}

// From is the first day of shipping whose reports AccountsOf needs for a month; the
// month's last day is the last.
func From(month cohort.Month) cohort.Day { return (month - 12).First() }

// Figures lay the month beside the one before and the one a year before, all at the
// same age, with what came back since.
func Figures(a Accounts) page.Table {
	within := fmt.Sprintf("within %s of shipping", page.Counted(a.Age, "day", "days"))
	t := page.Table{ID: "figures", Caption: "What became of the pairs, and what it cost", Columns: []page.Column{{Key: "what", Title: "Pairs"}}}
	for k, m := range a.AtAge {
		t.Columns = append(t.Columns, page.Column{Key: [...]string{"month", "month_before", "year_before"}[k], Title: MonthName(m.Month), Numeric: true})
	}
	t.Columns = append(t.Columns, page.Column{Key: "so_far", Title: MonthName(a.Now.Month) + ", all so far", Numeric: true})
	all := append(append([]shop.Month{}, a.AtAge...), a.Now)
	line := func(name string, cell func(shop.Month) page.Cell) {
		row := []page.Cell{page.Text(name)}
		for _, m := range all {
			if m.Shipped == 0 {
				row = append(row, page.Cell{Text: "none shipped"})
				continue
			}
			row = append(row, cell(m))
		}
		t.Rows = append(t.Rows, row)
	}
	line("shipped", func(m shop.Month) page.Cell {
		return page.CountOf(m.Shipped, page.Ref{Kind: "orders", IDs: m.Orders})
	})
	ends := []struct {
		name, cost string
		of         func(shop.Month) shop.Outcome
	}{
		{"made again", "cost of remakes", func(m shop.Month) shop.Outcome { return m.Remade }},
		{"adjusted", "cost of adjustments", func(m shop.Month) shop.Outcome { return m.Adjusted }},
		{"returned for the money", "cost of returns", func(m shop.Month) shop.Outcome { return m.Returned }},
	}
	for _, end := range ends {
		line(end.name, func(m shop.Month) page.Cell {
			o := end.of(m)
			return page.CountOf(len(o.Orders), page.Ref{Kind: "orders", IDs: o.Orders})
		})
		line(end.cost, func(m shop.Month) page.Cell { return money(a.Currency, end.of(m).Money) })
	}
	line("cost in all", func(m shop.Month) page.Cell { return money(a.Currency, m.Money()) })
	t.Notes = []string{"The first three columns are " + within + ", so that a young month can stand beside older ones."}
	if n := costNote(a.Now.Money()); n != "" {
		t.Notes = append(t.Notes, n)
	}
	return t
}

// money is an amount; where some reports have no cost that is marked, and where none
// has it says so.
func money(sign string, m shop.Money) page.Cell {
	switch {
	case m.Given() && m.Unpriced > 0:
		return page.Cell{Text: "at least " + amount(sign, m.Sum), Value: m.Sum}
	case m.Given():
		return page.Cell{Text: amount(sign, m.Sum), Value: m.Sum}
	case m.Unpriced > 0:
		return page.Cell{Text: "not written"}
	}
	return page.Cell{Text: amount(sign, 0), Value: 0.0}
}

// costNote says what the amounts are made of.
func costNote(m shop.Money) string {
	var parts []string
	if m.Usual > 0 {
		parts = append(parts, fmt.Sprintf("%s without a cost of its own %s counted at what the shop's sheet of costs gives", page.Counted(m.Usual, "report", "reports"), wasWere(m.Usual)))
	}
	if m.Unpriced > 0 {
		parts = append(parts, fmt.Sprintf("%s no cost at all and %s not in the sum", page.Counted(m.Unpriced, "report has", "reports have"), page.IsAre(m.Unpriced)))
	}
	if len(parts) == 0 {
		return ""
	}
	return "Costs: " + strings.Join(parts, "; ") + "."
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// amount writes money, rounded to whole units, with the currency's sign: €1,290, CHF
// 1,290, or 1,290 where the shop named none.
func amount(sign string, x float64) string {
	s := page.Fixed(x, 0)
	minus := ""
	if strings.HasPrefix(s, "-") {
		minus, s = "−", s[1:]
	}
	if last, _ := utf8.DecodeLastRuneInString(sign); unicode.IsLetter(last) || last == '.' {
		return minus + sign + "\u00a0" + s
	}
	return minus + sign + s
}
