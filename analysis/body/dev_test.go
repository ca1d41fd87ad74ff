package body

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// devCases are the forms of ../shared/ansur2/sheets-dev with their known faults.
type devCase struct {
	form        Form
	fault       string
	side, field string
}

func readDev(t testing.TB) []devCase {
	labels := shared(t, "labels-dev.csv")
	orders := shared(t, "sheets-dev/orders.csv")
	rows := shared(t, "sheets-dev/measurements.csv")
	sex := map[string]Sex{}
	for _, o := range orders[1:] {
		sex[o[0]] = ParseSex(o[11])
	}
	at := map[string]int{}
	var out []devCase
	for _, l := range labels[1:] {
		at[l[0]] = len(out)
		out = append(out, devCase{form: Form{ID: l[0], Sex: sex["O"+l[0]]}, fault: l[1], side: l[2], field: l[3]})
	}
	for _, r := range rows[1:] {
		side, _ := ParseSide(r[1])
		point, _ := ParsePoint(r[3])
		mm, err := strconv.ParseFloat(r[6], 64)
		require.NoError(t, err)
		f := &out[at[r[0]]].form
		f.Numbers = append(f.Numbers, Number{Side: side, Point: point, MM: mm, Written: r[6]})
	}
	return out
}
