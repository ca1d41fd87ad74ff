package analyses

import (
	"lastroom/notebooks"
)

// resampled is how often orders are resampled behind intervals that have no
// formula.
const resampled = 500

var (
	matureKey    = notebooks.Key{Name: "mature", About: "days after shipping from which an order is mature; 0 takes them from the reports so far"}
	factorsKey   = notebooks.Key{Name: "factors", About: "how often the silent are taken to have been remade, over like orders of which word came, as 0.5,1,2"}
	resampledKey = notebooks.Key{Name: "resampled", About: "how often orders are resampled, 0 to 5000; 500 unless said"}
)

// All are the analyses of the tool. Another one is another entry.
var All = notebooks.Catalogue{
	"review": {
		About: "The monthly fit review: the month, the run chart, findings, rules, orders to look at, complaints, faults, methods, and the annex.",
		Keys:  []notebooks.Key{{Name: "month", About: "the shipping month"}, matureKey, resampledKey},
		Parts: reviewParts(),
		Run:   reviewAnalysis,
	},
	"faults": {
		About: "Which faults of forms go with remakes, crude, stratified and adjusted.",
		Keys:  []notebooks.Key{matureKey, resampledKey},
		Parts: []string{"fault-table", "findings", "ratios", "levels", "excluded", "limits", "forest"},
		Run:   faultsAnalysis,
	},
	"fault": {
		About: "One fault in depth: its row, the three levels of exposure, where its complaints sit, its orders.",
		Keys:  []notebooks.Key{{Name: "fault", About: "id of the fault"}, matureKey, resampledKey},
		Parts: []string{"finding", "table", "drawn", "levels", "zones", "orders"},
		Run:   faultAnalysis,
	},
	"rules": {
		About: "The scorecard of the intake rules, and whether rules in force kept their promise.",
		Keys:  []notebooks.Key{matureKey, resampledKey},
		Parts: []string{"scorecard", "drawn", "desk", "since", "call-backs", "words"},
		Run:   rulesAnalysis,
	},
	"silence": {
		About: "If orders of which nobody sent word had been remade more often: the remake share, each fault's effect, each rule's worth, and where a conclusion turns.",
		Keys:  []notebooks.Key{factorsKey, matureKey, resampledKey},
		Parts: []string{"silence"},
		Run:   silenceAnalysis,
	},
	"unjudged": {
		About: "Faults that nobody could judge on some forms: those judged alone, the worst case, and the rest filled in.",
		Keys:  []notebooks.Key{matureKey, resampledKey},
		Parts: []string{"unjudged"},
		Run:   unjudgedAnalysis,
	},
	"trend": {
		About: "Remakes month by month with limits, and the running sums that notice a lasting change.",
		Keys:  []notebooks.Key{matureKey, resampledKey},
		Parts: []string{"months", "watch", "warnings"},
		Run:   trendAnalysis,
	},
	"risk": {
		About: "The remake risk of each open order, why, and what a call-back brings; how far such risks came true.",
		Parts: []string{"orders", "validation", "model", "card"},
		Run:   riskAnalysis,
	},
	"measurements": {
		About: "The shop's measurements over the published ranges, and forms out of range month by month.",
		Parts: []string{"ranges", "months"},
		Run:   measurementsAnalysis,
	},
	"measurer": {
		About: "One measurer: forms, faults, remakes against what the mix of orders would give, signs in the numbers, repeats.",
		Keys:  []notebooks.Key{{Name: "measurer", About: "id of the measurer"}, matureKey},
		Parts: []string{"words", "remakes", "faults", "signs", "trend", "repeats", "funnel"},
		Run:   measurerAnalysis,
	},
}
