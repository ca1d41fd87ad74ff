// Package review is the monthly review as one value, and the pages of the
// findings it is made of.
//
//  1. An Input holds what the analyses found, the cohort and where it all came
//     from.
//  2. Make computes the rest, once: the months, the curves, the complaints, the
//     orders to look at.
//  3. A Review's Parts are named pieces (run chart, scorecard, fault table, …)
//     that can be placed one by one; Document puts them on two sheets and an
//     annex, and package page prints that as HTML, text, CSV or JSON.
//
// FaultsPage, RulesPage, TrendPage, CheckPage, LoadPage and FactsPage are the
// same findings as documents of their own, for the command line.
package review

import (
	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/reports/page"
)

// An Input is what a review is made from.
type Input struct {
	Cohort *cohort.Cohort
	Month  cohort.Month // the shipping month under review
	Faults remakes.FaultsDocument
	Rules  rules.Document
	Trend  remakes.Trend
	// Spreads and RangeMonths lay the shop's numbers over the published
	// ranges; both may be empty.
	Spreads     []body.Spread
	RangeMonths []body.RangeMonth

	BookHash, Version string
	Parameters        [][2]string
}

// A Review is a monthly review, computed once.
type Review struct {
	Month      cohort.Month
	AsOf       cohort.Day
	Monthly    remakes.Monthly
	Curves     remakes.Curves
	Faults     remakes.FaultsDocument
	Rules      rules.Document
	Trend      remakes.Trend
	Complaints remakes.ComplaintTable
	LookAt     []remakes.LookAt
	Excluded   []cohort.Exclusion
	Spreads    []body.Spread
	Ranges     []body.RangeMonth
	Provenance page.Provenance
}

// Make computes a review. The maturity is that of the fault table, so that all
// of it stands on the same orders.
func Make(in Input) *Review {
	m := in.Faults.Maturity
	r := &Review{
		Month: in.Month, AsOf: in.Cohort.AsOf, Faults: in.Faults, Rules: in.Rules, Trend: in.Trend,
		Monthly: in.Trend.Monthly, Curves: remakes.ShippingCurves(in.Cohort, m),
		Complaints: remakes.Complaints(in.Cohort, m), LookAt: remakes.ToLookAt(in.Cohort, m),
		Excluded: in.Cohort.Excluded, Spreads: in.Spreads, Ranges: in.RangeMonths,
		Provenance: page.Provenance{AsOf: in.Cohort.AsOf, BookHash: in.BookHash, Version: in.Version, Parameters: in.Parameters},
	}
	if len(r.Monthly.Months) == 0 {
		r.Monthly = remakes.ByMonth(in.Cohort, m)
	}
	return r
}

// A Part is a named piece of a review.
type Part struct {
	Name, Title string
	Sheet       int  // where Document puts it: 1, 2, or 0 for the annex
	Beside      bool // on paper beside the part after it
	Blocks      []page.Block
}

// Parts are all pieces in the order in which Document prints them.
func (r *Review) Parts() []Part {
	return []Part{
		{"month", "", 1, false, Excluded(r.Excluded, r.Faults.Maturity)},
		{"run-chart", "Month by month", 1, false, RunChart(r.Monthly, r.Month)},
		{"findings", "Findings", 1, false, r.Findings()},
		{"scorecard", "Intake rules", 1, false, ScorecardShort(r.Rules)},
		{"look-at", "Orders to look at", 2, true, LookAt(r.LookAt, lookAtShort)},
		{"complaints", "Where boots did not fit", 2, false, Complaints(r.Complaints)},
		{"fault-table", "Faults and remakes", 2, false, FaultTable(r.Faults)},
		{"methods", "How it was worked out", 2, false, r.Methods()},
		{"maturity-curves", "How remakes come in", 0, false, Curves(r.Curves)},
		{"fault-forest", "Faults, drawn", 0, false, FaultForest(r.Faults)},
		{"levels", "Clean, mended, cut with the fault", 0, false, Levels(r.Faults)},
		{"scorecard-full", "All intake rules", 0, false, ScorecardFull(r.Rules)},
		{"measurements", "Measurements over the published range", 0, false, Measurements(r.Spreads, r.Ranges)},
		{"watch", "Watching the series", 0, false, Watch(r.Trend)},
		{"look-at-full", "All orders to look at", 0, false, LookAtRest(r.LookAt)},
		{"limits", "What these data cannot tell", 0, false, Limits(r.Faults)},
	}
}

// Document is the review on two sheets and an annex.
func (r *Review) Document() *page.Document {
	d := &page.Document{
		Title: "Fit review, boots shipped in " + monthName(r.Month), Lead: r.Lead(),
		Cautions: Cautions, Provenance: r.Provenance,
	}
	for _, p := range r.Parts() {
		if len(p.Blocks) > 0 {
			d.Sections = append(d.Sections, page.Section{ID: p.Name, Title: p.Title, Sheet: p.Sheet, Beside: p.Beside, Blocks: p.Blocks})
		}
	}
	return d
}

// Cautions stand on every review and on every check of a form.
var Cautions = []string{
	"Numb feet, diabetes, an open or broken skin, new or one-sided swelling, poor circulation, a prescribed shoe or orthotic: send the wearer to licensed care before measuring. A wearer who cannot feel tightness cannot tell you that a boot fits.",
	"Body measurements and notes on feet are private. Keep names out of these sheets and share a page only with those who make the boots.",
	"A statistic is no diagnosis, of a person or of a measurer: it says what goes with what among many orders, not what happened in one.",
}

var monthWords = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

func monthName(m cohort.Month) string {
	return monthWords[int(m)%12] + " " + plainInt(int(m)/12)
}
