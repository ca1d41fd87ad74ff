package review

import (
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// Complaints are the zones and directions behind remakes.
func Complaints(c remakes.ComplaintTable) []page.Block {
	z := figure.Zones{
		ID: "complaints-figure", Title: "Zones and directions of the complaints behind remakes",
		Desc: fmt.Sprintf("%s remakes of mature orders. The darker a zone of the boot, the more complaints; one of both sides counts on both boots.", page.Thousands(c.Remade)),
		N:    c.Remade - c.NotNamed, NotNamed: c.NotNamed,
	}
	for _, one := range c.Zones {
		z.Counts = append(z.Counts, figure.ZoneCount{Zone: one.Zone, Direction: one.Direction, Side: one.Side, Count: one.Remade, Orders: one.Orders})
	}
	return []page.Block{figure.ZoneChart(z)}
}

// mostAhead is how many uncut orders of a high risk are named.
const mostAhead = 3

// ahead are the uncut orders of the highest risk as orders to look at.
func ahead(list []risk.OrderRisk) (out []remakes.LookAt) {
	for _, o := range list[:min(mostAhead, len(list))] {
		why := fmt.Sprintf("not cut yet, remake risk %s %%", page.Fixed(100*o.Risk.Point, 0))
		if len(o.Reasons) > 0 {
			why += ": " + o.Reasons[0].Reason
		}
		out = append(out, remakes.LookAt{Order: o.OrderID, Shipped: cohort.NoDay, Why: why})
	}
	return out
}

// lookAtShort is how many orders to look at stand on sheet two.
const lookAtShort = 6

// LookAt names orders worth a look and why, at most most of them.
func LookAt(ls []remakes.LookAt, most int) []page.Block {
	if len(ls) == 0 {
		return []page.Block{page.Prose{"No order stands out."}}
	}
	t := lookAtTable("look-at-table", "Orders to look at", ls[:min(most, len(ls))])
	t.Total = len(ls)
	return []page.Block{t}
}

// LookAtRest is the full list, where LookAt had to cut it.
func LookAtRest(ls []remakes.LookAt) []page.Block {
	if len(ls) <= lookAtShort {
		return nil
	}
	return []page.Block{lookAtTable("look-at-all", "All orders to look at", ls)}
}

func lookAtTable(id, caption string, ls []remakes.LookAt) page.Table {
	t := page.Table{ID: id, Caption: caption, Columns: []page.Column{
		{Key: "order_id", Title: "Order"}, {Key: "shipped_on", Title: "Shipped"}, {Key: "why", Title: "Why"},
	}}
	for _, l := range ls {
		order := page.Text(l.Order)
		order.Ref = page.Ref{Kind: "order", IDs: []string{l.Order}}
		t.Rows = append(t.Rows, []page.Cell{order, page.Date(l.Shipped), page.Text(l.Why)})
	}
	return t
}
