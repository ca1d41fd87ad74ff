package remakes

import "lastroom/analysis/cohort"

const adjustedMethod = "standardised risk (logistic model, bootstrap by customer)"

func adjust(c *cohort.Cohort, m Maturity, o Options, d *FaultsDocument) {}
