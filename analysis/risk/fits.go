package risk

import (
	"sync"

	"lastroom/analysis/cohort"
)

// Fits are models of one cohort as it was known on past days. Validating the model
// and following its course ask for the same ones; each is fitted once. The zero value
// has none yet; several goroutines may ask it.
type Fits struct {
	mu sync.Mutex
	by map[cohort.Day]*fitOfDay
}

// A fitOfDay is what is kept of a fit: not the orders.
type fitOfDay struct {
	mu    sync.Mutex // held while it is fitted
	model *Model     // nil: not yet
	share []float64  // of remakes reported by the edges
}

// of is a day's, made if there is none.
func (f *Fits) of(day cohort.Day) *fitOfDay {
	if f == nil {
		return &fitOfDay{}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.by == nil {
		f.by = map[cohort.Day]*fitOfDay{}
	}
	if f.by[day] == nil {
		f.by[day] = &fitOfDay{}
	}
	return f.by[day]
}

// model is that of a day, and the share of remakes reported by the edges.
func (f *Fits) model(c *cohort.Cohort, histories []History, p past) (*Model, []float64, error) {
	k := f.of(p.asOf)
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.model == nil {
		x, err := fitOn(c, histories, p)
		if err != nil {
			return nil, nil, err
		}
		k.model, k.share = x.Model, x.share
	}
	return k.model, k.share, nil
}

// whole is the fit of a day with all that it was fitted on; what of it is kept, is.
func (f *Fits) whole(c *cohort.Cohort, histories []History, p past) (*fitted, error) {
	k := f.of(p.asOf)
	k.mu.Lock()
	defer k.mu.Unlock()
	x, err := fitOn(c, histories, p)
	if err == nil {
		k.model, k.share = x.Model, x.share
	}
	return x, err
}
