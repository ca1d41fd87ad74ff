package review

import (
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// curves are the cumulative remake shares by shipping quarter.
func curves(c monitoring.Curves) []page.Block {
	f := figure.Curves{
		ID: "maturity-curves-figure", Title: "Remakes by days since shipping, each shipping quarter", Days: remakes.Horizon,
		What: "remade, % of the quarter's orders",
		Desc: "Young quarters end early: their orders have not been out long enough. " + c.Method + ".",
	}
	f.Reference = kaplanMeier(c.All, "all orders")
	f.Reference.Low, f.Reference.High = nil, nil
	for _, q := range c.Quarters {
		f.Panels = append(f.Panels, figure.Panel{Label: quarterName(q.Quarter), N: q.Orders, Main: kaplanMeier(q, "Kaplan-Meier"), Beside: besides(q)})
	}
	return []page.Block{figure.CurvePanels(f), ages(c)}
}

func quarterName(m cohort.Month) string {
	return fmt.Sprintf("%d Q%d", int(m)/12, int(m)%12/3+1)
}

func kaplanMeier(q monitoring.Curve, label string) figure.Curve {
	out := figure.Curve{Label: label}
	for _, p := range q.Points {
		out.Day = append(out.Day, float64(p.Day))
		out.Share = append(out.Share, float64(p.Share))
		out.Low = append(out.Low, float64(p.Low))
		out.High = append(out.High, float64(p.High))
	}
	return out
}

// besides is the curve with returns as a competing end, where there are any.
func besides(q monitoring.Curve) figure.Curve {
	out := figure.Curve{Label: "with returns for refund as another end (Aalen-Johansen)"}
	returned := false
	for _, p := range q.Points {
		out.Day = append(out.Day, float64(p.Day))
		out.Share = append(out.Share, float64(p.Competing))
		returned = returned || float64(p.Returned) > 0
	}
	if !returned {
		return figure.Curve{}
	}
	return out
}

func ages(c monitoring.Curves) page.Table {
	t := page.Table{ID: "ages", Caption: "Remade by a fixed age, all orders", Columns: []page.Column{
		{Key: "day", Title: "Days since shipping", Numeric: true}, {Key: "share", Title: "Kaplan-Meier", Unit: "%", Numeric: true},
		{Key: "competing_share", Title: "Returns as another end", Unit: "%", Numeric: true}, {Key: "n", Title: "n", Numeric: true},
	}}
	for _, a := range c.At {
		t.Rows = append(t.Rows, []page.Cell{page.Count(a.Day), page.Percent(a.Share), page.Percent(a.Competing), page.Count(a.Share.N)})
	}
	t.Notes = append(append(page.Refusals(t.Rows), c.Warnings...), "A returned pair can't be remade: both columns are of remakes before a return, the first with returned orders followed on, the second with their return as an end.")
	return t
}
