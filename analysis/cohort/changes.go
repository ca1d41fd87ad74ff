package cohort

// Affected is a number of orders, and the first few of them by id.
type Affected struct {
	Orders int      `json:"orders"`
	Some   []string `json:"some,omitempty"`
}

// Changes are what came into the book after an earlier state of it.
type Changes struct {
	Loads           int      `json:"loads"`
	NewOrders       Affected `json:"new_orders"`
	LateOutcomes    Affected `json:"late_outcomes"`    // reports on orders that had been shipped by then
	CorrectedOrders Affected `json:"corrected_orders"` // orders, forms or measurements written anew
	RemovedOrders   Affected `json:"removed_orders"`
}
