package remakes

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
)

// Options are the choices behind the findings. The zero value is the default.
type Options struct {
	// MatureDays overrides the days after which an order is mature; 0 takes
	// them from the data.
	MatureDays int
	// Replicates of the bootstrap behind adjusted effects; 0 leaves the
	// adjusted part out (it is then missing, and says so). Where remakes are
	// many a formula takes the bootstrap's place, and none are drawn.
	Replicates int
	// Seed of the bootstrap.
	Seed uint64
	// Workers that share the replicates; 0 means one a processor. The numbers do
	// not depend on it.
	Workers int
	// Progress, if set, is told of replicates done; it may be called from
	// several goroutines.
	Progress func(done, total int)
}

func (o Options) bootstrap() regression.Bootstrap {
	return regression.Bootstrap{Replicates: o.Replicates, Seed: o.Seed, Workers: o.Workers, Progress: o.Progress}
}

// A FaultTable is the whole answer to "which faults go with remakes?".
type FaultTable struct {
	AsOf         cohort.Day `json:"as_of"`
	Maturity     Maturity   `json:"maturity"`
	MatureOrders int        `json:"mature_orders"`
	Remade       int        `json:"remade"`
	// RemadeNoDay counts those of Remade whose report has no day.
	RemadeNoDay int            `json:"remade_without_day"`
	RemakeShare stats.Estimate `json:"remake_share"`
	// Answered is the share of mature orders with any report at all: silence
	// is not a fit.
	Answered stats.Estimate `json:"answered_share"`
	// ShareOfAnswered is the remake share if those who said nothing were as
	// those who did; RemakeShare takes silence for a fit. The truth lies between.
	ShareOfAnswered stats.Estimate `json:"remake_share_of_answered"`
	Faults          []FaultFinding `json:"faults"`
	// AnyFault is "at least one noted or counted fault on the form cut from".
	AnyFault FaultFinding `json:"any_fault"`
	// AttributableToAll is how many of the mature orders' remakes go with the
	// noted and counted faults together. The faults' own numbers overlap and
	// do not add up to it.
	AttributableToAll stats.Estimate     `json:"attributable_to_all"`
	Model             ModelNote          `json:"model"`
	Excluded          []cohort.Exclusion `json:"excluded"`
	Limits            []string           `json:"limits"` // what these data cannot tell, in words
}

// A FaultFinding is one fault's row: counts and estimates on mature orders, by
// the form cut from. A form mended by a call-back counts as without.
type FaultFinding struct {
	Fault         string `json:"fault"`
	Title         string `json:"title"`
	Evident       bool   `json:"evident"` // read off the numbers, kept apart
	AtRisk        int    `json:"at_risk"`
	With          int    `json:"with_fault"`
	Without       int    `json:"without_fault"`
	Unknown       int    `json:"unknown"`
	RemadeWith    int    `json:"remade_with"`
	RemadeWithout int    `json:"remade_without"`
	RemadeUnknown int    `json:"remade_unknown"`

	RateWith       stats.Estimate `json:"rate_with"`
	RateWithout    stats.Estimate `json:"rate_without"`
	RiskRatio      stats.Estimate `json:"risk_ratio"`
	RiskDifference stats.Estimate `json:"risk_difference"`
	StratifiedOR   stats.Estimate `json:"stratified_odds_ratio"`
	// PValue is the two-sided mid-p of Fisher's exact test; QValue its
	// Benjamini-Hochberg value across the faults. NaN where not given.
	PValue stats.Value `json:"p_value"`
	QValue stats.Value `json:"q_value"`

	// The same without remakes whose cause is making, material, pattern or
	// preference: of the remakes that measuring can answer for.
	MeasuringOnly CrudeComparison `json:"measuring_only"`

	// How sure one can be that the fault was looked for on all forms alike.
	UnknownAmongRemade stats.Estimate `json:"unknown_among_remade"`
	UnknownAmongKept   stats.Estimate `json:"unknown_among_kept"`

	Levels    []Level   `json:"levels"`
	ZoneCheck ZoneCheck `json:"zone_check"`

	AdjustedRD   stats.Estimate `json:"adjusted_risk_difference"`
	AdjustedRR   stats.Estimate `json:"adjusted_risk_ratio"`
	Attributable stats.Estimate `json:"attributable_remakes"`
	// AdjustedP and AdjustedQ belong to the adjusted difference.
	AdjustedP stats.Value `json:"adjusted_p_value"`
	AdjustedQ stats.Value `json:"adjusted_q_value"`
	// EValue is how strongly an unmeasured cause would have to go with both
	// the fault and remakes, as a risk ratio, to explain the adjusted ratio
	// away; its Low is that of the interval's near end.
	EValue stats.Estimate `json:"e_value"`

	// Finding is true where the adjusted difference is above nothing and its
	// q value is within FindingLevel.
	Finding bool `json:"finding"`
	// Words say it plainly: size, certainty, n, what would change the mind.
	Words    Words    `json:"words"`
	Warnings []string `json:"warnings"`
	// Orders are those cut with the fault and remade, newest shipped first; WithOrders
	// all that were cut with it, UnknownOrders those on which it is not known, AtRiskOrders
	// all on which it can be, WithoutOrders those cut without it and remade; see [Behind].
	Orders        []string `json:"-" cbor:"orders"`
	WithOrders    []string `json:"-" cbor:"with_orders"`
	UnknownOrders []string `json:"-" cbor:"unknown_orders"`
	AtRiskOrders  []string `json:"-" cbor:"at_risk_orders"`
	WithoutOrders []string `json:"-" cbor:"without_orders"`
}

// FindingLevel is the false discovery share that findings are held to.
const FindingLevel = 0.10

// A CrudeComparison is with the fault against without, on some of the remakes.
type CrudeComparison struct {
	RemadeWith     int            `json:"remade_with"`
	RemadeWithout  int            `json:"remade_without"`
	RiskRatio      stats.Estimate `json:"risk_ratio"`
	RiskDifference stats.Estimate `json:"risk_difference"`
}

// A Level is one of the three levels of exposure: "clean", "mended" (the first
// form had the fault, the form cut from has not), "cut with fault".
type Level struct {
	Level  string         `json:"level"`
	Orders int            `json:"orders"`
	Remade int            `json:"remade"`
	Rate   stats.Estimate `json:"rate"`
	// Against clean.
	RiskDifference stats.Estimate `json:"risk_difference"`
	// OrderIDs are the orders of the level, RemadeIDs those remade; see [Behind].
	OrderIDs  []string `json:"-" cbor:"order_ids"`
	RemadeIDs []string `json:"-" cbor:"remade_ids"`
}

// A ZoneCheck asks whether complaints sit in the zones the fault can touch,
// with the other zones as control.
type ZoneCheck struct {
	Zones  []form.Zone     `json:"zones"`  // empty: any zone, no check possible
	Own    CrudeComparison `json:"own"`    // remakes with a complaint in these zones
	Others CrudeComparison `json:"others"` // in others
	// Ratio is the odds ratio, among remade orders with a zone, of the
	// complaint lying in the fault's own zones, with against without.
	Ratio stats.Estimate `json:"ratio"`
	// PValue is Fisher's mid-p of that table, QValue its Benjamini-Hochberg
	// value across the faults.
	PValue stats.Value `json:"p_value"`
	QValue stats.Value `json:"q_value"`
	// Verdict is "fits", CarelessForm, "unclear" or "none".
	Verdict string `json:"verdict"`
	Words   string `json:"words"`
}

// Words are a finding in plain language.
type Words struct {
	Headline  string `json:"headline"`
	Certainty string `json:"certainty"`
	Change    string `json:"change"` // what would change the mind
	Action    string `json:"action"`
}

// A ModelNote says what stands behind the adjusted figures.
type ModelNote struct {
	Method     string   `json:"method"`
	Orders     int      `json:"orders"`
	Remakes    int      `json:"remakes"`
	Patterns   int      `json:"patterns"`
	Terms      []string `json:"terms"`
	Replicates int      `json:"replicates"`
	Seed       uint64   `json:"seed"`
	Horizon    int      `json:"horizon_days"`
	Warnings   []string `json:"warnings"`
}

// CarelessForm is the verdict of a zone check on a fault whose complaints are
// as common in zones that it can't touch.
const CarelessForm = "careless form"
