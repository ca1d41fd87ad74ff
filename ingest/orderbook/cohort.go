package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/ingest/engine"
)

//go:embed sql/cohort.sql
var cohortSQL string

// Cohort reads the shipped orders as columns, by shipping day and order id,
// with the orders left out counted by reason. An empty book gives an empty
// cohort.
func (r *Reader) Cohort(ctx context.Context) (*cohort.Cohort, error) {
	c, _, err := r.readCohort(ctx, nil)
	return c, err
}

// HoldFirstForms reads the cohort and says of each rule and each of its orders
// whether the rule holds the order's first form: With is held, Without not held,
// Unknown where the condition is NULL, NotAtRisk where there is no first form.
// The days between which a rule was in force are not looked at.
//
// Each condition is checked before anything is run; an error names the rule.
func (r *Reader) HoldFirstForms(ctx context.Context, list []rules.Rule) (*cohort.Cohort, []rules.Applied, error) {
	if err := r.checkRules(ctx, list); err != nil {
		return nil, nil, err
	}
	c, applied, err := r.readCohort(ctx, list)
	if err != nil && ctx.Err() == nil {
		err = cmp.Or(r.brokenRule(ctx, list), err)
	}
	return c, applied, err
}

// readCohort reads the cohort with what checked rules say, in one pass over
// the forms.
func (r *Reader) readCohort(ctx context.Context, list []rules.Rule) (*cohort.Cohort, []rules.Applied, error) {
	var b *cohortBuilder
	begin := func(parts []partition) { b = newCohortBuilder(r.asOf, parts, list) }
	query := cohortQuery(list)
	if err := r.inPartitions(ctx, query, begin, func(k int, v []driver.Value) error { return b.parts[k].add(v) }); err != nil {
		return nil, nil, fmt.Errorf("reading the cohort: %w", err)
	}
	var out []cohort.Exclusion
	var err error
	var counting sync.WaitGroup
	counting.Go(func() { out, err = r.excluded(ctx) })
	c := b.cohort()
	counting.Wait()
	c.Excluded = out
	return c, b.applied, err
}

// followUpOnce is the query of the view follow_up, of the reports and the book's
// beginning worked out once.
var followUpOnce = func() string {
	all := Views()
	at := slices.IndexFunc(all, func(v View) bool { return v.Name == "follow_up" })
	return strings.NewReplacer("JOIN report ", "JOIN report_one ", "JOIN book_began ", "JOIN began_one ").Replace(all[at].query())
}()

// cohortQuery gives the query of one partition of shipping days.
func cohortQuery(list []rules.Rule) func(from, to string) string {
	expressions, of := heldWords(list), [3]string{}
	for i := range heldCount(list) {
		for k, table := range []string{"", "a.", "p."} {
			of[k] += fmt.Sprintf(", %sheld%d", table, i)
		}
	}
	return func(from, to string) string {
		return strings.NewReplacer("{from}", from, "{to}", to, "{rules}", expressions, "{follow_up}", followUpOnce,
			"{held}", of[0], "{held of a}", of[1], "{held of p}", of[2]).Replace(cohortSQL)
	}
}

// excluded counts the orders that are not in the cohort, most first, and names
// the first three of each reason.
func (r *Reader) excluded(ctx context.Context) (out []cohort.Exclusion, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "left out"), nil, func(rows *sql.Rows) error {
		var e cohort.Exclusion
		var some string
		if err := rows.Scan(&e.Reason, &e.Orders, &some); err != nil {
			return err
		}
		e.Some = splitList(some)
		out = append(out, e)
		return nil
	})
	return out, err
}

func orNaN(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}
