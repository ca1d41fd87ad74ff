package remakes

import (
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// A LookAt is an order to look at, and why.
type LookAt struct {
	Order   string     `json:"order_id"`
	Shipped cohort.Day `json:"shipped_on"`
	Why     string     `json:"why"`
}

// maxLookAt is how many orders are named.
const maxLookAt = 25

// ToLookAt names up to 25 orders worth a look, newest first within each
// reason: remade orders whose form had no known fault (what went wrong
// there?), then orders cut with two or more known faults and not yet mature
// (ask how they fit before the customer does).
func ToLookAt(c *cohort.Cohort, m Maturity) []LookAt {
	list := []LookAt{}
	add := func(i int, why string) {
		if len(list) < maxLookAt {
			list = append(list, LookAt{c.OrderID[i], c.Shipped[i], why})
		}
	}
	recent := c.AsOf - Horizon
	for i := c.Len() - 1; i >= 0 && len(list) < maxLookAt/2; i-- {
		if !m.Is(c, i) && knownFaults(c, i) >= 2 && !Event(c, i) && !c.Answered[i] {
			add(i, fmt.Sprintf("cut with %d known faults and no word yet: ask how they fit", knownFaults(c, i)))
		}
	}
	for i := c.Len() - 1; i >= 0 && len(list) < maxLookAt; i-- {
		if Event(c, i) && c.Remade[i] >= recent && allClean(c, i) {
			add(i, "remade"+inZone(c, i)+" though its form shows no fault: what went wrong?")
		}
	}
	return list
}

func inZone(c *cohort.Cohort, i int) string {
	z, d := c.Zone.At(i), c.Direction.At(i)
	switch {
	case z != "" && d != "":
		return " (" + z + ", " + d + ")"
	case z != "":
		return " (" + z + ")"
	}
	return ""
}

func knownFaults(c *cohort.Cohort, i int) int {
	n := 0
	for f := range form.Faults {
		if c.Cut[f][i] == form.With {
			n++
		}
	}
	return n
}

func allClean(c *cohort.Cohort, i int) bool {
	for f := range form.Faults {
		if s := c.Cut[f][i]; s == form.With || s == form.Unknown && form.Faults[f].Kind != form.Evident {
			return false
		}
	}
	return true
}
