package orderbook

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"database/sql/driver"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
)

// Options say how a book is read.
type Options struct {
	// AsOf is the day at whose end the book is looked at: what was received,
	// shipped or reported later is invisible. NoDay, or the zero Day, takes
	// the newest day in the book.
	AsOf cohort.Day
	// Program is the name and version of the reading program.
	Program string
	// Keep is for a small book in memory that is asked the same again and again,
	// one question at a time: questions are kept prepared on this connection, since
	// to prepare them takes longer than to answer them.
	Keep *sql.Conn
}

// A Reader answers questions about a book as it stood at the end of one day.
// It never writes. It may be used by several goroutines at once.
type Reader struct {
	db    *sql.DB
	own   bool // Close closes db
	spill string
	start []string // run on each connection before use
	views madeViews
	asOf  cohort.Day
	hash  string

	kept *sql.Conn
	// askers are connections that each lends, one a question at the same time; nil
	// where one is still to be made.
	askers chan *asker

	validConditions sync.Map // of rules, by their text
	sizes           partitionSizes
	// Held by what goes over all orders, the tables of workedOut included: two such
	// questions at a time need more memory than a reader has.
	overAll sync.Mutex
}

// An asker is a connection with the questions that were prepared on it, by their
// text. To prepare one over the views takes longer than to answer it for one order.
type asker struct {
	*sql.Conn
	prepared map[string]*sql.Stmt
}

// askersOf makes room for as many questions at once as there are processors: more
// would only make each of them slower.
func askersOf(kept *sql.Conn) chan *asker {
	if kept != nil {
		one := make(chan *asker, 1)
		one <- &asker{kept, map[string]*sql.Stmt{}}
		return one
	}
	several := make(chan *asker, max(2, runtime.GOMAXPROCS(0)))
	for range cap(several) {
		several <- nil
	}
	return several
}

// readMemory bounds what the engine holds in reading a book, in megabytes, and in
// proportion beyond 600,000 orders (see engine.LimitMemory): a review asks several
// questions at a time, and a million orders are too many for 220.
const readMemory = 220

// giveMemory sets the bound by the number of orders.
func giveMemory(ctx context.Context, conn *sql.Conn) error {
	var orders int64
	if err := conn.QueryRowContext(ctx, "SELECT count(*) FROM orders").Scan(&orders); err != nil {
		return err
	}
	_, err := conn.ExecContext(ctx, engine.LimitMemory(readMemory, 2*orders))
	return err
}

// OpenReader opens the snapshot of the book read-only. Close must be called.
// A book that is not there, or is damaged, is an error that says what to do; one
// that an older program made is brought up to date first.
func OpenReader(ctx context.Context, book string, opt Options) (*Reader, error) {
	f := bookfile.FilesOf(book)
	if err := bookfile.Settle(ctx, f, opt.Program); err != nil {
		return nil, err
	}
	r, err := openSnapshot(ctx, f, opt)
	if errors.Is(err, bookfile.ErrOlder) {
		if err := bookfile.BringUpBook(ctx, book, opt.Program); err != nil {
			return nil, fmt.Errorf("bringing the order book up to date: %w", err)
		}
		return openSnapshot(ctx, f, opt)
	}
	return r, err
}

func openSnapshot(ctx context.Context, f bookfile.Files, opt Options) (*Reader, error) {
	spill, err := os.MkdirTemp("", "lastroom-")
	if err != nil {
		return nil, err
	}
	db, err := bookfile.Open(ctx, f.Snapshot(), true,
		"SET temp_directory = "+engine.Quote(spill), engine.OneThread)
	if err != nil {
		os.RemoveAll(spill)
		if errors.Is(err, bookfile.ErrDamaged) {
			err = fmt.Errorf("%w: %s, which the reading commands open, can't be read; remove it and the next command makes it again", bookfile.ErrDamaged, f.Snapshot())
		}
		return nil, err
	}
	r := &Reader{db: db, own: true, spill: spill, sizes: usualSizes, askers: askersOf(nil)}
	if err := r.begin(ctx, opt); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// NewReader reads a book that is open already, in memory. The views are made in it,
// so that it has one reader at a time; closing the reader leaves db open.
func NewReader(ctx context.Context, db *sql.DB, opt Options) (*Reader, error) {
	r := &Reader{db: db, sizes: usualSizes, kept: opt.Keep, askers: askersOf(opt.Keep)}
	return r, r.begin(ctx, opt)
}

// begin checks the schema and settles the as-of day.
func (r *Reader) begin(ctx context.Context, opt Options) error {
	conn, err := r.kept, error(nil)
	if conn == nil {
		if conn, err = r.db.Conn(ctx); err != nil {
			return err
		}
		defer conn.Close()
	}
	if r.own {
		r.start = []string{searchPath}
	}
	if r.asOf, err = lookAt(ctx, conn, &r.views, opt.AsOf, r.own); err != nil {
		return err
	}
	if r.own {
		if err := giveMemory(ctx, conn); err != nil {
			return err
		}
	}
	r.start = append(r.start, setAsOf(r.asOf))
	if r.kept != nil {
		// All the views that a form is asked through, before anything is prepared: the
		// engine plans whatever was prepared before a view was made anew each time that
		// it is run, and never keeps that plan.
		asked := []string{"FROM form", engine.Section(deskFormsSQL, "forms"), engine.Section(deskFormsSQL, "missing")}
		if err := r.views.add(ctx, conn, viewsNamed(asked...)); err != nil {
			return err
		}
	}
	var sum string
	err = conn.QueryRowContext(ctx, "SELECT checksum FROM loads ORDER BY load_id DESC LIMIT 1").Scan(&sum)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	r.hash = contentHash(sum)
	return err
}

// searchPath has the views, which are made in memory, found before the tables of
// a book that is attached.
const searchPath = "SET search_path = 'memory.main,book.main'"

// MakeViews checks the schema of a book and makes those of the views of sql/views that
// a person's SQL seems to mean, or all for "", for a connection that looks at the book at
// the end of a day; without one, of its newest day, which is returned (NoDay where the
// book is empty). attached says that the book is a file opened by Open, not in memory. On
// other connections the variable as_of must be set too.
func MakeViews(ctx context.Context, conn *sql.Conn, asOf cohort.Day, attached bool, asked string) (cohort.Day, error) {
	var views madeViews
	asOf, err := lookAt(ctx, conn, &views, asOf, attached)
	if err != nil {
		return asOf, err
	}
	return asOf, views.add(ctx, conn, viewsAsked(asked))
}

// MakeAllViews makes them all, where MakeViews made some, on a connection below
// database/sql.
func MakeAllViews(ctx context.Context, conn driver.ExecerContext) error {
	var script strings.Builder
	for _, v := range Views() {
		script.WriteString(v.statement())
	}
	_, err := conn.ExecContext(ctx, script.String(), nil)
	return err
}

// lookAt is MakeViews but for the views, of which it makes those it needs.
func lookAt(ctx context.Context, conn *sql.Conn, views *madeViews, asOf cohort.Day, attached bool) (cohort.Day, error) {
	if asOf == 0 {
		asOf = cohort.NoDay
	}
	if err := bookfile.CheckSchema(ctx, conn); err != nil {
		return asOf, err
	}
	if attached {
		if _, err := conn.ExecContext(ctx, searchPath); err != nil {
			return asOf, err
		}
	}
	// The variable is set before a view is made, so that its type is known.
	if _, err := conn.ExecContext(ctx, setAsOf(asOf)); err != nil || asOf.Known() {
		return asOf, err
	}
	if err := views.add(ctx, conn, viewsNamed(newestDayQuery)); err != nil {
		return asOf, err
	}
	asOf, err := newestDay(ctx, conn)
	if err != nil {
		return asOf, err
	}
	_, err = conn.ExecContext(ctx, setAsOf(asOf))
	return asOf, err
}

func setAsOf(d cohort.Day) string {
	if !d.Known() {
		return "SET VARIABLE as_of = NULL::DATE"
	}
	return "SET VARIABLE as_of = DATE " + engine.Quote(d.String())
}

const newestDayQuery = "SELECT newest FROM newest_day"

// newestDay is the newest day of the book; an empty book has none.
func newestDay(ctx context.Context, conn *sql.Conn) (cohort.Day, error) {
	var t sql.NullTime
	if err := conn.QueryRowContext(ctx, newestDayQuery).Scan(&t); err != nil {
		return cohort.NoDay, err
	}
	return dayOf(t), nil
}

// days are the answers to a query of ids and days.
func (r *Reader) days(ctx context.Context, query string, args ...any) (map[string]cohort.Day, error) {
	out := map[string]cohort.Day{}
	err := r.each(ctx, query, args, func(rows *sql.Rows) error {
		var id string
		var day sql.NullTime
		err := rows.Scan(&id, &day)
		out[id] = dayOf(day)
		return err
	})
	return out, err
}

// faultStates takes the states of a form's faults out of the number they are told in,
// two bits each.
func faultStates(told uint64) (states []form.State) {
	for k := range form.Faults {
		states = append(states, form.State(told>>(2*k)&3))
	}
	return states
}

func dayOf(t sql.NullTime) cohort.Day {
	if !t.Valid {
		return cohort.NoDay
	}
	return cohort.DayOf(t.Time)
}

// conn borrows a connection on which the as-of day is set, with the views that the
// queries to be asked on it name. The caller must close it, and close its rows first.
func (r *Reader) conn(ctx context.Context, queries ...string) (*sql.Conn, error) {
	conn, err := r.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	for _, s := range r.start {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			conn.Close()
			return nil, err
		}
	}
	if err := r.views.add(ctx, conn, viewsNamed(queries...)); err != nil {
		conn.Close()
		return nil, err
	}
	return conn, nil
}

// each runs a query and calls row once for each row of its answer. row asks
// nothing of the reader.
func (r *Reader) each(ctx context.Context, query string, args []any, row func(*sql.Rows) error) (err error) {
	var a *asker
	select {
	case a = <-r.askers:
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	defer func() {
		if err != nil && a != nil && r.kept == nil { // who knows in what state
			err = errors.Join(err, a.Close())
			a = nil
		}
		r.askers <- a
	}()
	if a == nil {
		conn, err := r.conn(ctx)
		if err != nil {
			return err
		}
		a = &asker{conn, map[string]*sql.Stmt{}}
	}
	var rows *sql.Rows
	if a.prepared[query] == nil {
		if err := r.views.add(ctx, a.Conn, viewsNamed(query)); err != nil {
			return err
		}
	}
	if len(args) == 0 && r.kept == nil { // such a text is asked once, or names ids
		rows, err = a.QueryContext(ctx, query)
	} else {
		rows, err = a.ask(ctx, query, args)
	}
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// ask asks a question that is kept prepared.
func (a *asker) ask(ctx context.Context, query string, args []any) (*sql.Rows, error) {
	s, ok := a.prepared[query]
	if !ok {
		var err error
		if s, err = a.PrepareContext(ctx, query); err != nil {
			return nil, err
		}
		a.prepared[query] = s
	}
	return s.QueryContext(ctx, args...)
}

// AsOf is the day at whose end the reader looks at the book; NoDay where the
// book is empty.
func (r *Reader) AsOf() cohort.Day { return r.asOf }

// ContentHash is a short digest of the checksum that the ledger has for the
// content of the book, "" for a book without a load. Equal content, equal hash.
func (r *Reader) ContentHash() string { return r.hash }

// contentHash is the first 16 hex digits of the SHA-256 of a checksum.
func contentHash(checksum string) string {
	sum := sha256.Sum256([]byte(checksum))
	return hex.EncodeToString(sum[:8])
}

// Close gives back what OpenReader took.
func (r *Reader) Close() error {
	var errs []error
	for range len(r.askers) {
		if a := <-r.askers; a != nil && r.kept == nil {
			errs = append(errs, a.Close())
		}
	}
	if r.own {
		errs = append(errs, r.db.Close(), os.RemoveAll(r.spill))
	}
	return errors.Join(errs...)
}
