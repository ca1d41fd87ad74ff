// Package review is the monthly review as one value, and the pages of the
// findings it is made of.
//
//  1. An Input holds what the analyses found, the cohort and where it all came
//     from.
//  2. Make computes the rest, once: the months, the curves, the complaints, the
//     orders to look at.
//  3. A Review's Parts are named pieces (run chart, scorecard, fault table, …)
//     that the shipped notebook places one by one, on two sheets and an annex;
//     package page prints that as HTML, text, CSV or JSON.
//
// FaultsPage, RulesPage, TrendPage, CheckPage and FactsPage are the same findings as
// documents of their own, for the command line.
package review

import (
	"slices"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/instructions"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/analysis/shop"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// An Input is what a review is made from.
type Input struct {
	Cohort *cohort.Cohort
	Month  cohort.Month // the shipping month under review
	Faults remakes.FaultTable
	Rules  rules.Scorecard
	Trend  monitoring.Trend
	// Instructions are the versions of the measuring instructions.
	Instructions []instructions.Version
	// Spreads and RangeMonths lay the shop's numbers over the published
	// ranges; both may be empty.
	Spreads     []human.Spread
	RangeMonths []human.RangeMonth
	// Silence and Blanks say how far the findings rest on what nobody knows.
	Silence sensitivity.Silence
	Blanks  sensitivity.Blanks
	// Risks are how the risks of past orders came true, Ahead the uncut orders of a
	// high one; both may be empty.
	Risks risk.Course
	Ahead []risk.OrderRisk
	// Reports are the reports of the orders shipped from brief.From of the month to
	// its end.
	Reports []shop.Report
}

// A Review is a monthly review, computed once.
type Review struct {
	Month      cohort.Month
	AsOf       cohort.Day
	Monthly    monitoring.Monthly
	Curves     monitoring.Curves
	Faults     remakes.FaultTable
	Rules      rules.Scorecard
	Trend      monitoring.Trend
	Complaints remakes.ComplaintTable
	LookAt     []shop.LookAt
	Accounts   brief.Accounts
	Remade     []shop.Remake
	Late       []shop.LateMonth
	LateSince  cohort.Day
	Excluded   []cohort.Exclusion
	Spreads    []human.Spread
	Instructed []instructions.Version
	Ranges     []human.RangeMonth
	Silence    sensitivity.Silence
	Blanks     sensitivity.Blanks
	Risks      risk.Course
	// NoPair says what is needed, where no pair of the book was shipped; then there
	// is nothing else to tell.
	NoPair []string
}

// Make computes a review. The maturity is that of the fault table, so that all
// of it stands on the same orders.
func Make(in Input) *Review {
	m := in.Faults.Maturity
	r := &Review{
		Month: in.Month, AsOf: in.Cohort.AsOf, Faults: in.Blanks.Warned(rules.Advised(in.Faults, in.Rules)), Rules: in.Rules, Trend: in.Trend,
		Monthly: in.Trend.Monthly, Curves: monitoring.ShippingCurves(in.Cohort, m),
		Complaints: remakes.Complaints(in.Cohort, m),
		Accounts:   brief.AccountsOf(in.Cohort, in.Reports, in.Rules.Costs, in.Trend.Monthly, in.Month), Remade: shop.Remakes(in.Cohort, in.Month),
		Excluded: in.Cohort.Excluded, Spreads: in.Spreads, Ranges: in.RangeMonths, Instructed: in.Instructions,
		Silence: in.Silence, Blanks: in.Blanks, Risks: in.Risks,
	}
	r.LookAt = slices.Concat(brief.Ahead(in.Ahead), shop.ToAsk(in.Cohort, m, in.Month.First(), min(in.Month.Last(), in.Cohort.AsOf-shop.LeastAge)), shop.Puzzles(in.Cohort, in.Month.First(), in.Month.Last()))
	if in.Cohort.Len() == 0 {
		r.NoPair = brief.Missing(in.Cohort, m)
	}
	if r.AsOf.Known() {
		r.LateSince = cohort.DayOf(r.AsOf.Time().AddDate(0, -1, 0))
		r.Late = shop.Late(in.Cohort, in.Month, r.LateSince)
	}
	return r
}

// A Part is a named piece of a review. One without blocks has nothing to say.
type Part struct {
	Name   string
	Blocks []page.Block
}

// Parts are all pieces, those of the first sheet first, then those of the
// second, then the annex. Of a book without a shipped pair there is one piece, what
// can be done meanwhile: pages of "too few to tell" help nobody.
func (r *Review) Parts() []Part {
	parts := r.allParts()
	if r.NoPair == nil {
		return parts
	}
	for i, p := range parts {
		switch p.Name {
		case "findings":
			parts[i].Blocks = []page.Block{page.Prose{
				"Nothing can be found before a pair is shipped and somebody says how it fits.",
				"Until then: note the faults of every form that comes in, good ones too, since that is what later months are compared by. Forms can be judged at the form desk from the first one on, and rules can hold them before leather is cut.",
			}}
		case "month":
			parts[i].Blocks = nil
			if words := leftOut(r.Excluded); words != "" {
				parts[i].Blocks = []page.Block{page.Prose{words}}
			}
		default:
			parts[i].Blocks = nil
		}
	}
	return parts
}

func (r *Review) allParts() []Part {
	return []Part{
		{"run-chart", []page.Block{brief.RunChart(r.Monthly, r.Month)}},
		{"figures", append([]page.Block{brief.Figures(r.Accounts)}, r.lateWords()...)},
		{"remade", brief.RemadeBlocks(r.Monthly, r.Month, r.Accounts.Currency, r.Remade)},
		{"findings", brief.FindingBlocks(r.found())},
		{"decide", []page.Block{brief.Lines}},
		{"scorecard", scorecardShort(r.Rules)},
		{"look-at", lookAt(r.LookAt, lookAtShort)},
		{"complaints", complaints(r.Complaints)},
		{"fault-table", FaultTable(r.Faults)},
		{"month", excluded(r.Excluded, r.Faults.Maturity, r.Silence.Sentence())},
		{"methods", r.methods()},
		{"more-findings", brief.RestOfFindings(r.found())},
		{"remade-full", brief.RestOfRemade(r.Month, r.Accounts.Currency, r.Remade)},
		{"late", r.lateTable()},
		{"maturity-curves", curves(r.Curves)},
		{"fault-forest", FaultForest(r.Faults)},
		{"levels", Levels(r.Faults)},
		{"silence", silence(turning(r.Silence))},
		{"unjudged", unjudged(r.Blanks)},
		{"scorecard-full", scorecardFull(r.Rules)},
		{"measurements", measurements(r.Spreads, r.Ranges, rangeMonthsShort)},
		{"instructions", instructionTable(r.Instructed)},
		{"watch", watchIfSignalled(r.Trend)},
		{"risks", riskCourse(r.Risks)},
		{"look-at-full", lookAtRest(r.LookAt)},
		{"limits", limits(r.Faults)},
	}
}

func (r *Review) found() brief.Found {
	return brief.Found{Month: r.Month, Trend: r.Trend, Faults: r.Faults, Rules: r.Rules}
}

func (r *Review) lateWords() []page.Block {
	if !r.LateSince.Known() {
		return nil
	}
	return []page.Block{brief.Late(r.Late, r.LateSince)}
}

func (r *Review) lateTable() []page.Block {
	if len(r.Late) == 0 {
		return nil
	}
	return []page.Block{brief.LateTable(r.Late, r.LateSince)}
}

// Cautions of a page, each with what it is for.
const (
	// LicensedCare is for who measures.
	LicensedCare = "Numb feet, diabetes, an open or broken skin, new or one-sided swelling, poor circulation, a prescribed shoe or orthotic: send the wearer to licensed care before measuring. A wearer who cannot feel tightness cannot tell you that a boot fits."
	// PrivateData is for pages that name people.
	PrivateData = "Body measurements and notes on feet are private. Keep names out of these sheets and share a page only with those who make the boots."
	// NoDiagnosis is for every page with a statistic.
	NoDiagnosis = "A statistic is no diagnosis, of a person or of a measurer: it says what goes with what among many orders, not what happened in one."
)

// Cautions stand on every review and on every check of a form.
var Cautions = []string{LicensedCare, PrivateData, NoDiagnosis}
