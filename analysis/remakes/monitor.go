package remakes

import "lastroom/analysis/cohort"

// Watch makes the monitored series.
func Watch(c *cohort.Cohort, o Options) Trend {
	m := MatureAfter(c, o.MatureDays)
	return Trend{AsOf: c.AsOf, Monthly: ByMonth(c, m), Charts: []Chart{}, Words: []string{}, Warnings: []string{}}
}
