package rules

const (
	correctedMethod = "avoidable per 100, less the optimism of the rule's rank (bootstrap by customer)"
	promiseMethod   = "remakes avoided since the start over remakes promised before it"
)

func (s *scorer) correct(applied []Applied, d *Document, o Options) {}

func (s *scorer) since(a Applied, calls []Call, d *Document, k int, o Options) {}

func (r Scored) say(d Document) string { return r.TooFew }
