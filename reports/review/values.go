package review

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// Values are the named numbers of a review, for prose: month.…, mature.…, then
// those of the faults and of the rules.
func (r *Review) Values() []page.Value {
	vs := MonthValues(r.Monthly, r.Month)
	vs = append(vs, FaultValues(r.Faults)...)
	return append(vs, RuleValues(r.Rules)...)
}

// MonthValues are the numbers of one shipping month: month.shipped,
// month.remade, month.share, month.age_days, and centre, the share of all
// mature months.
func MonthValues(m monitoring.Monthly, month cohort.Month) []page.Value {
	vs := []page.Value{said("centre", m.Centre, 100, 1, " %")}
	mo := brief.MonthOf(m, month)
	if mo == nil {
		return vs
	}
	return append(vs,
		counted("month.shipped", mo.Shipped), counted("month.remade", mo.Remade), counted("month.age_days", mo.YoungestAge),
		said("month.share", mo.Rate, 100, 1, " %"), said("month.share_at_equal_age", mo.Equal.Rate, 100, 1, " %"))
}

// FaultValues are the numbers of the fault table by dotted name, as
// tape-marks-missing.risk_ratio; and those of all mature orders.
func FaultValues(d remakes.FaultTable) []page.Value {
	vs := []page.Value{
		counted("mature.orders", d.MatureOrders), counted("mature.remade", d.Remade), counted("mature.days", d.Maturity.Days),
		said("mature.share", d.RemakeShare, 100, 1, " %"), said("mature.answered", d.Answered, 100, 0, " %"),
		said("mature.attributable_to_all", d.AttributableToAll, 1, 0, " remakes"),
	}
	for _, f := range faultRows(d) {
		n := f.Fault + "."
		vs = append(vs,
			counted(n+"at_risk", f.AtRisk), counted(n+"with_fault", f.With), counted(n+"unknown", f.Unknown), counted(n+"remade_with", f.RemadeWith), counted(n+"remade_without", f.RemadeWithout),
			said(n+"rate_with", f.RateWith, 100, 1, " %"), said(n+"rate_without", f.RateWithout, 100, 1, " %"),
			said(n+"risk_ratio", f.RiskRatio, 1, 2, ""), said(n+"risk_difference", f.RiskDifference, 100, 1, " per 100"),
			said(n+"stratified_odds_ratio", f.StratifiedOR, 1, 2, ""),
			said(n+"adjusted_risk_difference", f.AdjustedRD, 100, 1, " per 100"), said(n+"adjusted_risk_ratio", f.AdjustedRR, 1, 2, ""),
			said(n+"attributable_remakes", f.Attributable, 1, 1, " remakes"))
	}
	return vs
}

// RuleValues are the numbers of the scorecard by dotted name, as
// rule.tape-marks-missing.sensitivity.
func RuleValues(d rules.Scorecard) []page.Value {
	vs := []page.Value{counted("rules.first_forms", d.FirstForms), counted("rules.remade", d.Remade), counted("rules.months", d.Months)}
	for _, s := range d.Rules {
		n := "rule." + s.ID + "."
		vs = append(vs, counted(n+"held", s.Held), counted(n+"remakes_caught", s.RemakesCaught),
			said(n+"held_share", s.HeldShare, 100, 1, " %"), said(n+"sensitivity", s.Sensitivity, 100, 1, " %"),
			said(n+"rate_held", s.RateHeld, 100, 1, " %"), said(n+"rate_not_held", s.RateNotHeld, 100, 1, " %"),
			said(n+"callbacks_per_remake_caught", s.CallsPerCatch, 1, 1, ""), said(n+"avoidable_per_100", s.Best(), 1, 2, " per 100"),
			said(n+"net_per_100", s.Net, 1, 0, " per 100"), said(n+"kept_promise", s.KeptPromise, 100, 0, " %"))
	}
	return vs
}

func said(name string, e stats.Estimate, scale float64, decimals int, unit string) page.Value {
	return page.Value{Name: name, Text: page.InWords(e, scale, decimals, unit), E: e}
}

// counted is a number that was counted, not estimated: its interval is itself.
func counted(name string, n int) page.Value {
	x := float64(n)
	return page.Value{Name: name, Text: page.Thousands(n), E: stats.Estimate{Point: x, Low: x, High: x, Level: stats.DefaultLevel, N: n, Method: "as counted"}}
}
