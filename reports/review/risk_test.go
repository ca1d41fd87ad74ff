package review

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/risk"
	"lastroom/analysis/stats"
)

// One order asked for is not "1 orders, the highest of which".
func TestRiskLead(t *testing.T) {
	share := func(x int) stats.Estimate { return stats.Wilson(x, 100, stats.DefaultLevel) }
	r := risk.Report{AsOf: 20000, BaseRate: share(8), Orders: []risk.OrderRisk{{OrderID: "W2", Risk: share(30)}, {OrderID: "W1", Risk: share(20)}}}
	r.Shown = true
	assert.Contains(t, riskLead(r), "2 orders as of 2024-10-04; the highest risk of a remake within a year of shipping is that of order W2, 30.0 % (")
	r.Orders = r.Orders[1:]
	assert.Contains(t, riskLead(r), "As of 2024-10-04, the risk of a remake of order W1 within a year of shipping is 20.0 % (")
}
