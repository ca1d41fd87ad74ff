package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
)

//go:embed sql/info.sql
var infoSQL string

//go:embed sql/began.sql
var beganSQL string

//go:embed sql/changes.sql
var changesSQL string

// Info is what a book holds by the as-of day, in counts, and where it came
// from.
type Info struct {
	AsOf       cohort.Day            `json:"as_of"`
	Newest     cohort.Day            `json:"newest_day"`
	Hash       string                `json:"book_hash"`
	Schema     int                   `json:"schema_version"`
	Orders     int                   `json:"orders"`
	Shipped    int                   `json:"shipped"`
	Followed   int                   `json:"followed"` // in the cohort
	Remade     int                   `json:"remade"`
	Forms      int                   `json:"forms"`
	Keyed      int                   `json:"forms_keyed"`  // with measurements
	Judged     int                   `json:"forms_judged"` // by the joint model of foot and leg
	Numbers    int                   `json:"measurements"`
	Outcomes   int                   `json:"outcomes"`
	CallBacks  int                   `json:"call_backs"`
	Measurers  int                   `json:"measurers"`
	Repeats    int                   `json:"repeats"`
	Superseded int                   `json:"superseded_rows"`
	LeftOut    []cohort.Exclusion    `json:"left_out"`
	Notes      []string              `json:"notes"` // what limits what can be learned
	Began      Began                 `json:"book_began"`
	Settings   map[string]string     `json:"settings"`
	Loads      []bookfile.LedgerLine `json:"loads"`
}

// Info counts the book.
func (r *Reader) Info(ctx context.Context) (*Info, error) {
	n, err := r.counts(ctx)
	if err != nil {
		return nil, err
	}
	i := &Info{
		AsOf: r.asOf, Hash: r.hash, Orders: n["orders"], Shipped: n["shipped"], Followed: n["followed"], Remade: n["remade"],
		Forms: n["forms"], Keyed: n["forms"] - n["unkeyed"], Judged: n["judged"], Numbers: n["numbers"], Outcomes: n["outcomes"],
		CallBacks: n["call_backs"], Measurers: n["measurers"], Repeats: n["repeats"], Superseded: n["superseded"],
		Notes: notesOf(n),
	}
	if i.LeftOut, err = r.excluded(ctx); err != nil {
		return nil, err
	}
	if i.Began, err = r.Began(ctx); err != nil {
		return nil, err
	}
	if words := i.Began.Words(); words != "" {
		i.Notes = append([]string{words}, i.Notes...)
	}
	if i.Settings, err = r.Settings(ctx); err != nil {
		return nil, err
	}
	conn, err := r.conn(ctx, newestDayQuery)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	if i.Newest, err = newestDay(ctx, conn); err != nil {
		return nil, err
	}
	if err := conn.QueryRowContext(ctx, "SELECT version FROM schema_version").Scan(&i.Schema); err != nil {
		return nil, err
	}
	i.Loads, err = bookfile.ReadLedger(ctx, conn)
	return i, err
}

// Began are the days from which orders are in the book whether or not a customer
// complained (view book_began); NoDay where it knows of none from before.
type Began struct {
	Received cohort.Day `json:"received_from"`
	Shipped  cohort.Day `json:"shipped_from"`
	Set      bool       `json:"set"`      // by the shop, not read off the orders
	LeftOut  int        `json:"left_out"` // orders from before
	// What it was read off: orders, and those with a complaint, before and since.
	Before           int `json:"before"`
	ComplainedBefore int `json:"complained_before"`
	Since            int `json:"since"`
	ComplainedSince  int `json:"complained_since"`
}

// Began says when the book began.
func (r *Reader) Began(ctx context.Context) (b Began, err error) {
	b.Received, b.Shipped = cohort.NoDay, cohort.NoDay
	err = r.each(ctx, beganSQL, nil, func(rows *sql.Rows) error {
		var received, shipped sql.NullTime
		err := rows.Scan(&received, &shipped, &b.Set, &b.Before, &b.ComplainedBefore, &b.Since, &b.ComplainedSince, &b.LeftOut)
		b.Received, b.Shipped = dayOf(received), dayOf(shipped)
		return err
	})
	return b, err
}

// Words say it to a person; "" where there is nothing to say.
func (b Began) Words() string {
	var days []string
	if b.Received.Known() {
		days = append(days, fmt.Sprintf("received before %s", b.Received))
	}
	if b.Shipped.Known() && !(b.Set && b.Shipped == b.Received) {
		days = append(days, fmt.Sprintf("shipped before %s", b.Shipped))
	}
	if len(days) == 0 || b.LeftOut == 0 {
		return ""
	}
	left := fmt.Sprintf("%d orders %s are from before the book began and are left out of all shares", b.LeftOut, strings.Join(days, " or "))
	if b.Set {
		return left + ", as the shop's setting book_begins says"
	}
	return fmt.Sprintf("%s: %d of %d such orders have a complaint, but %d of %d later ones, so they seem to have been written in only when the complaint came. If that is wrong, or another day is right, say so with the setting book_begins in a settings file (a day before the first order keeps them all in)",
		left, b.ComplainedBefore, b.Before, b.ComplainedSince, b.Since)
}

func (r *Reader) counts(ctx context.Context) (map[string]int, error) {
	n := map[string]int{}
	for _, query := range engine.NamedQueries(infoSQL, "-- count ") {
		err := r.each(ctx, query, nil, func(rows *sql.Rows) error {
			names, err := rows.Columns()
			if err != nil {
				return err
			}
			counts, into := make([]int, len(names)), make([]any, len(names))
			for i := range counts {
				into[i] = &counts[i]
			}
			if err := rows.Scan(into...); err != nil {
				return err
			}
			for i, name := range names {
				n[name] = counts[i]
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return n, nil
}

// notesOf says in words what is missing or doubtful, most harmful first.
func notesOf(n map[string]int) []string {
	notes := []string{}
	for _, note := range []struct{ id, words string }{
		{"no_cut_form", "of %d shipped orders no form is known as the one cut from (cut_from): their faults are unknown"},
		{"contested_cut", "on %d orders several forms claim to be the one cut from: none of them is taken"},
		{"tucked_unknown", "of %d shipped orders it is not known whether trousers are worn inside (worn_tucked): they are not at risk of tucked-set-skipped"},
		{"orthotic_unknown", "of %d shipped orders it is not known whether an orthotic is worn: they are not at risk of orthotic-undiscussed"},
		{"unkeyed", "%d forms have no measurements in the book: faults read off their numbers are unknown"},
		{"stray_forms", "%d forms belong to no order in the book"},
		{"stray_outcomes", "%d outcomes belong to no order in the book"},
	} {
		if n[note.id] > 0 {
			notes = append(notes, fmt.Sprintf(note.words, n[note.id]))
		}
	}
	return notes
}

// Settings are the shop settings in force, by name.
func (r *Reader) Settings(ctx context.Context) (map[string]string, error) {
	conn, err := r.conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	return Settings(ctx, conn)
}

// Settings are the shop settings in force, by name.
func Settings(ctx context.Context, conn *sql.Conn) (map[string]string, error) {
	rows, err := conn.QueryContext(ctx, "SELECT name, value FROM settings")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]string{}
	for rows.Next() {
		var name, value string
		if err := rows.Scan(&name, &value); err != nil {
			return nil, err
		}
		out[name] = value
	}
	return out, rows.Err()
}

// Load is the number of the newest load, 0 for a book without one.
func (r *Reader) Load(ctx context.Context) (n int64, err error) {
	err = r.each(ctx, "SELECT coalesce(max(load_id), 0) FROM loads", nil, func(rows *sql.Rows) error { return rows.Scan(&n) })
	return n, err
}

// ShippingMonths are the months in which boots of new orders were shipped, as known on
// the as-of day, the oldest first.
func (r *Reader) ShippingMonths(ctx context.Context) (months []cohort.Month, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "shipping months"), nil, func(rows *sql.Rows) error {
		var first sql.NullTime
		err := rows.Scan(&first)
		months = append(months, dayOf(first).Month())
		return err
	})
	return months, err
}

// FirstAndNewest are the day of the first order and the newest day of the book, whatever
// the as-of day; NoDay in an empty book.
func (r *Reader) FirstAndNewest(ctx context.Context) (first, newest cohort.Day, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "first and newest day"), nil, func(rows *sql.Rows) error {
		var a, b sql.NullTime
		err := rows.Scan(&a, &b)
		first, newest = dayOf(a), dayOf(b)
		return err
	})
	return first, newest, err
}

// Changes counts what came after load since; before is the as-of day that was
// looked at then.
func (r *Reader) Changes(ctx context.Context, since int64, before cohort.Day) (c cohort.Changes, err error) {
	err = r.each(ctx, "SELECT count(*) FROM loads WHERE load_id > ?", []any{since}, func(rows *sql.Rows) error { return rows.Scan(&c.Loads) })
	if err != nil {
		return c, err
	}
	kinds := map[string]*cohort.Affected{"new": &c.NewOrders, "late": &c.LateOutcomes, "corrected": &c.CorrectedOrders, "removed": &c.RemovedOrders}
	var day any
	if before.Known() {
		day = before.Time()
	}
	err = r.each(ctx, changesSQL, []any{since, day}, func(rows *sql.Rows) error {
		var what, some string
		var n int
		if err := rows.Scan(&what, &n, &some); err != nil {
			return err
		}
		*kinds[what] = cohort.Affected{Orders: n, Some: splitList(some)}
		return nil
	})
	return c, err
}
