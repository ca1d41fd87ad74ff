package brief

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/risk"
	"lastroom/analysis/shop"
	"lastroom/reports/page"
)

// remadeShort is how many of a month's remakes stand on the first sheet.
const remadeShort = 8

// RemadeBlocks are the month's remade orders one by one, the first of them where
// they are many.
func RemadeBlocks(m monitoring.Monthly, month cohort.Month, currency string, list []shop.Remake) []page.Block {
	switch {
	case len(list) > 0:
	case MonthOf(m, month) == nil:
		return []page.Block{page.Prose{"No pair of the book was shipped in " + MonthName(month) + "."}}
	case m.NoWord:
		return []page.Block{page.Prose{"Nobody has told yet whether a pair shipped in " + MonthName(month) + " has to be made again."}}
	default:
		return []page.Block{page.Prose{"No pair shipped in " + MonthName(month) + " has come back to be made again so far."}}
	}
	return []page.Block{Remakes("remade-table", "Pairs of "+MonthName(month)+" made again", currency, list, remadeShort)}
}

// RestOfRemade is the whole list, where RemadeBlocks had to cut it.
func RestOfRemade(month cohort.Month, currency string, list []shop.Remake) []page.Block {
	if len(list) <= remadeShort {
		return nil
	}
	return []page.Block{Remakes("remade-all", "All pairs of "+MonthName(month)+" made again", currency, list, 0)}
}

// Lines are room to write on, on paper only.
var Lines = page.Markup{HTML: []byte(`<div class="lines"><p>What we decide</p><p>Who does it</p><p>When we look again</p></div>`)}

// Remakes lists remade orders with what came back and what stood on their form, at
// most most of them; 0 is all.
func Remakes(id, caption, currency string, list []shop.Remake, most int) page.Table {
	t := page.Table{ID: id, Caption: caption, Total: len(list), Columns: []page.Column{
		{Key: "order_id", Title: "Order"}, {Key: "shipped_on", Title: "Shipped"}, {Key: "told_on", Title: "Told"}, {Key: "where", Title: "Where it did not fit"},
		{Key: "cause", Title: "Cause written"}, {Key: "faults", Title: "On the form it was cut from"}, {Key: "cost", Title: "Cost", Numeric: true},
	}}
	if most > 0 && len(list) > most {
		list = list[:most]
	}
	for _, r := range list {
		told := page.Date(r.Told)
		if !r.Told.Known() {
			told = page.Cell{Text: "day not written"}
		}
		cost := page.Cell{Text: "not written"}
		if !math.IsNaN(r.Cost) {
			cost = page.Cell{Text: amount(currency, r.Cost), Value: r.Cost}
		}
		t.Rows = append(t.Rows, []page.Cell{orderCell(r.Order), page.Date(r.Shipped), told, page.Text(where(r)), page.Text(cmp.Or(r.Cause, "not written")),
			page.Text(cmp.Or(strings.Join(r.Faults, ", "), "no known fault")), cost})
	}
	return t
}

func orderCell(id string) page.Cell {
	c := page.Text(id)
	c.Ref = page.Ref{Kind: "order", IDs: []string{id}}
	return c
}

// where is the zone, direction and side of a complaint.
func where(r shop.Remake) string {
	s := strings.TrimSpace(r.Zone + " " + r.Direction)
	switch {
	case s == "":
		return "not written"
	case r.Side == "both":
		return s + ", both feet"
	case r.Side != "":
		return s + ", " + r.Side
	}
	return s
}

// Late says of which older months more remakes were told since a day.
func Late(list []shop.LateMonth, since cohort.Day) page.Prose {
	if len(list) == 0 {
		return page.Prose{"No remake of an older month was told of since " + DayName(since) + "."}
	}
	var parts []string
	for _, m := range list {
		parts = append(parts, MonthName(m.Month)+": "+page.Thousands(len(m.Orders))+" more")
	}
	return page.Prose{"Told of older months since " + DayName(since) + ": " + strings.Join(parts, "; ") + "."}
}

// LateTable is the same with the orders, the newest month first.
func LateTable(list []shop.LateMonth, since cohort.Day) page.Table {
	t := page.Table{ID: "late", Caption: "Remakes of older months told of since " + DayName(since), Columns: []page.Column{
		{Key: "month", Title: "Shipped in"}, {Key: "remade", Title: "More remakes", Numeric: true}, {Key: "orders", Title: "Orders"}}}
	for _, m := range list {
		t.Rows = append(t.Rows, []page.Cell{{Text: m.Month.String(), Value: m.Month.String()}, page.CountOf(len(m.Orders), page.Ref{Kind: "orders", IDs: m.Orders}), page.Text(strings.Join(m.Orders, ", "))})
	}
	return t
}

// LookAt is a table of orders worth a look, at most most of them; 0 is all.
func LookAt(id, caption string, list []shop.LookAt, most int) page.Table {
	t := page.Table{ID: id, Caption: caption, Total: len(list), Columns: []page.Column{
		{Key: "order_id", Title: "Order"}, {Key: "shipped_on", Title: "Shipped"}, {Key: "why", Title: "Why"},
	}}
	if most > 0 && len(list) > most {
		list = list[:most]
	}
	for _, l := range list {
		shipped := page.Date(l.Shipped)
		if !l.Shipped.Known() {
			shipped = page.Cell{Text: "not cut"}
		}
		t.Rows = append(t.Rows, []page.Cell{orderCell(l.Order), shipped, page.Text(l.Why)})
	}
	return t
}

// mostAhead is how many uncut orders of a high risk are named.
const mostAhead = 3

// Ahead are the uncut orders of the highest risk as orders to look at.
func Ahead(list []risk.OrderRisk) (out []shop.LookAt) {
	for _, o := range list[:min(mostAhead, len(list))] {
		why := fmt.Sprintf("of 100 such orders about %s come back", page.Fixed(100*o.Risk.Point, 0))
		if len(o.Reasons) > 0 {
			why += ": " + o.Reasons[0].Reason
		}
		out = append(out, shop.LookAt{Order: o.OrderID, Shipped: cohort.NoDay, Why: why})
	}
	return out
}
