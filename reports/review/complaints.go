package review

import (
	"fmt"

	"lastroom/analysis/remakes"
	"lastroom/analysis/shop"
	"lastroom/reports/brief"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// complaints are the zones and directions behind remakes.
func complaints(c remakes.ComplaintTable) []page.Block {
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

// lookAtShort is how many orders to look at stand on sheet two.
const lookAtShort = 6

// lookAt names orders worth a look and why, at most most of them.
func lookAt(ls []shop.LookAt, most int) []page.Block {
	if len(ls) == 0 {
		return []page.Block{page.Prose{"No order of the month stands out."}}
	}
	return []page.Block{brief.LookAt("look-at-table", "Orders to look at", ls, most)}
}

// lookAtRest is the full list, where lookAt had to cut it.
func lookAtRest(ls []shop.LookAt) []page.Block {
	if len(ls) <= lookAtShort {
		return nil
	}
	return []page.Block{brief.LookAt("look-at-all", "All orders to look at", ls, 0)}
}
