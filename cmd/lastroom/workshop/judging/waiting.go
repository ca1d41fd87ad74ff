package judging

import (
	"context"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
)

// A Waiting form is of the book, held, and the newest of an order of which no leather is
// cut yet.
type Waiting struct {
	Judged
	// AskedOn is when the customer was last asked about it, where no answer is in; NoDay
	// where they were not asked or the day is not written. Asked says which.
	AskedOn cohort.Day
	Asked   bool
}

// longestWait is how many days before the newest day of the book a form may have come
// for the desk to look at it: orders that nobody cut for half a year were given up
// without a word (judgement).
const longestWait = 183

// FindWaiting judges the forms of the desk's book that nothing was cut from yet, so that
// [Desk.Waiting] has those that are held, and looks up [Desk.Newest]: every page of the
// desk has both.
func (d *Desk) FindWaiting(ctx context.Context) error {
	var err error
	if d.newest, err = d.book.Newest(ctx); err != nil {
		return err
	}
	list, err := d.book.WaitingForms(ctx, d.book.AsOf()-longestWait)
	if err != nil || len(list) == 0 {
		return err
	}
	judged, err := d.judgeAll(ctx, d.book, list)
	if err != nil {
		return err
	}
	newest := map[string]int{} // by order; first forms are judged too, since the risk of later ones rests on them
	for i, j := range judged {
		if k, seen := newest[j.Order]; !seen || j.No >= judged[k].No {
			newest[j.Order] = i
		}
	}
	var ids []string
	for i, j := range judged {
		if newest[j.Order] == i && j.Decision.Held() {
			d.waiting, ids = append(d.waiting, Waiting{Judged: j, AskedOn: cohort.NoDay}), append(ids, j.ID)
		}
	}
	days, err := d.book.AskedOn(ctx, ids)
	for i := range d.waiting {
		if day, asked := days[d.waiting[i].ID]; asked {
			d.waiting[i].AskedOn, d.waiting[i].Asked = day, true
		}
	}
	return err
}

// Newest is what [Desk.FindWaiting] found to be the last in the book; nothing without it.
func (d *Desk) Newest() orderbook.Newest { return d.newest }

// Waiting are the forms that [Desk.FindWaiting] found, the longest waiting first.
func (d *Desk) Waiting() []Waiting { return d.waiting }
