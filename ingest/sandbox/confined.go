package sandbox

import (
	"bufio"
	"context"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/nearest"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/child"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

// Main must be the first call of main, and of TestMain where a test uses
// Run. In a process that Run started it runs the query and never
// returns; otherwise it returns at once.
func Main() {
	var job childJob
	isChild, err := child.Job(childVariable, &job, func() { os.Exit(4) })
	if !isChild {
		return
	}
	out := bufio.NewWriterSize(os.Stdout, 1<<16)
	if err == nil {
		err = childAnswerTo(job, out)
	}
	if err != nil {
		err = writeLine(out, childLine{Error: sqlError(err)})
	}
	if err = errors.Join(err, out.Flush()); err != nil {
		os.Exit(4)
	}
	os.Exit(0)
}

func writeLine(w *bufio.Writer, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// childAnswerTo opens the snapshot, locks everything and runs the job.
func childAnswerTo(job childJob, out *bufio.Writer) error {
	if err := limitChild(childSpace, job.Work); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), job.Time)
	defer cancel()
	conn, err := lockedConn(ctx, job)
	if err != nil {
		return err
	}
	err = answer(ctx, conn, job, out)
	if err != nil && ctx.Err() != nil {
		return tooLong(job.Time)
	}
	return err
}

// lockedConn is a connection on which only the snapshot can be read. The order
// of the last four settings matters: each closes a door that the one before
// it needs.
func lockedConn(ctx context.Context, job childJob) (engineConn, error) {
	db, err := bookfile.Open(ctx, job.Snapshot, true, "SET memory_limit = "+engine.Quote(fmt.Sprintf("%dMB", job.Memory)), engine.OneThread)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	c, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := orderbook.MakeViews(ctx, c, job.AsOf, true, job.SQL); err != nil {
		return nil, err
	}
	for _, s := range []string{
		"SET temp_directory = ''",
		"SET enable_external_access = false",
		"SET disabled_filesystems = 'LocalFileSystem'",
		"SET lock_configuration = true",
	} {
		if _, err := c.ExecContext(ctx, s); err != nil {
			return nil, err
		}
	}
	var conn engineConn
	err = c.Raw(func(d any) error { conn = d.(engineConn); return nil })
	return conn, err
}

// An engineConn is a connection below database/sql, whose conversions lose the
// types of an answer.
type engineConn interface {
	driver.Conn
	driver.QueryerContext
	driver.ExecerContext
}

// answer checks the statement, runs it and writes its rows.
func answer(ctx context.Context, conn engineConn, job childJob, out *bufio.Writer) error {
	args, explain, err := gate(conn, job)
	var refused *frame.Error
	if err != nil && !errors.As(err, &refused) {
		// It may mean a view whose name was not seen in it, or the engine know which of
		// the others was meant.
		if err := orderbook.MakeAllViews(ctx, conn); err != nil {
			return err
		}
		args, explain, err = gate(conn, job)
	}
	if err != nil {
		return err
	}
	query := job.SQL
	if !explain {
		if query, err = typedQuery(ctx, conn, job, args); err != nil {
			return err
		}
	}
	rows, err := conn.QueryContext(ctx, query, args)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns := headOf(rows)
	if err := writeLine(out, childLine{Columns: columns}); err != nil {
		return err
	}
	more, err := writeRows(out, rows, columns, job.MaxRows)
	if err != nil {
		return err
	}
	return writeLine(out, childLine{End: true, More: more})
}

// gate lets one SELECT or EXPLAIN of a SELECT through.
func gate(conn engineConn, job childJob) (args []driver.NamedValue, explain bool, err error) {
	kind, parameters, err := engine.Prepare(conn, job.SQL)
	if errors.Is(err, engine.ErrSeveral) {
		return nil, false, &frame.Error{Message: "there are several statements; write one SELECT"}
	}
	if err != nil {
		return nil, false, err
	}
	if kind == engine.Explain {
		explain = true
		kind, _, _ = engine.Prepare(conn, explainWords.ReplaceAllString(job.SQL, ""))
	}
	if kind != engine.Select {
		return nil, false, &frame.Error{Message: "only a question can be asked here: one SELECT, or EXPLAIN of a SELECT. Nothing can be written, loaded, attached or set"}
	}
	for i, name := range parameters {
		arg, err := argNamed(name, job.Args)
		if err != nil {
			return nil, false, err
		}
		arg.Ordinal = i + 1
		args = append(args, arg)
	}
	return args, explain, nil
}

var explainWords = regexp.MustCompile(`(?is)^\s*EXPLAIN\s+(ANALYZE\s+)?`)

func argNamed(name string, given []childArg) (driver.NamedValue, error) {
	var names []string
	for _, a := range given {
		if strings.EqualFold(a.Name, name) {
			v, err := a.value()
			return driver.NamedValue{Name: name, Value: v}, err
		}
		names = append(names, a.Name)
	}
	if _, err := strconv.Atoi(name); err == nil {
		return driver.NamedValue{}, &frame.Error{Message: "a parameter is written with its name, as $month"}
	}
	if near := nearest.Name(strings.ToLower(name), names); near != "" {
		return driver.NamedValue{}, &frame.Error{Message: fmt.Sprintf("there is no parameter $%s; did you mean $%s?", name, near)}
	}
	return driver.NamedValue{}, &frame.Error{Message: fmt.Sprintf("there is no parameter $%s", name)}
}

// typedQuery wraps a question that passed the gate so that it gives one row
// more than wanted at most, and only types that can be handed on.
func typedQuery(ctx context.Context, conn engineConn, job childJob, args []driver.NamedValue) (string, error) {
	inner := strings.TrimRight(job.SQL, "; \t\r\n")
	names, types, err := shapeOf(ctx, conn, "SELECT * FROM ("+inner+"\n) LIMIT 0", args)
	if err != nil {
		return "", err
	}
	var as, pick []string
	for i, name := range names {
		c := fmt.Sprintf("c%d", i)
		as = append(as, c)
		switch castTo := castOf(types[i]); castTo {
		case "":
			pick = append(pick, c+" AS "+engine.QuoteName(name))
		default:
			pick = append(pick, "CAST("+c+" AS "+castTo+") AS "+engine.QuoteName(name))
		}
	}
	return fmt.Sprintf("SELECT %s FROM (%s\n) AS answer(%s) LIMIT %d", strings.Join(pick, ", "), inner, strings.Join(as, ", "), job.MaxRows+1), nil
}

func shapeOf(ctx context.Context, conn engineConn, query string, args []driver.NamedValue) (names, types []string, err error) {
	rows, err := conn.QueryContext(ctx, query, args)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	names = slices.Clone(rows.Columns())
	for i := range names {
		types = append(types, rows.(driver.RowsColumnTypeDatabaseTypeName).ColumnTypeDatabaseTypeName(i))
	}
	return names, types, nil
}

// castOf is the type a column is cast to before it is handed on, "" for none.
func castOf(engineType string) string {
	if strings.HasPrefix(engineType, "DECIMAL") {
		return "DOUBLE"
	}
	if _, ok := columnTypes[engineType]; ok {
		return ""
	}
	return "VARCHAR"
}

var columnTypes = map[string]frame.Kind{
	"BOOLEAN": frame.Boolean,
	"TINYINT": frame.Integer, "SMALLINT": frame.Integer, "INTEGER": frame.Integer, "BIGINT": frame.Integer,
	"UTINYINT": frame.Integer, "USMALLINT": frame.Integer, "UINTEGER": frame.Integer, "UBIGINT": frame.Integer,
	"HUGEINT": frame.Integer,
	"FLOAT":   frame.Real, "DOUBLE": frame.Real,
	"DATE": frame.Day, "VARCHAR": frame.Text,
}

func headOf(rows driver.Rows) []frame.Column {
	var head []frame.Column
	for i, name := range rows.Columns() {
		t, ok := columnTypes[rows.(driver.RowsColumnTypeDatabaseTypeName).ColumnTypeDatabaseTypeName(i)]
		if !ok {
			t = frame.Text
		}
		head = append(head, frame.Column{Name: name, Kind: t})
	}
	return head
}

// writeRows writes up to limit rows and says whether there were more.
func writeRows(out *bufio.Writer, rows driver.Rows, columns []frame.Column, limit int) (more bool, err error) {
	values := make([]driver.Value, len(columns))
	cells := make([]any, len(columns))
	for n := 0; ; n++ {
		if err := rows.Next(values); err == io.EOF {
			return false, nil
		} else if err != nil {
			return false, err
		}
		if n == limit {
			return true, nil
		}
		for i, v := range values {
			if cells[i], err = cellOf(v); err != nil {
				return false, &frame.Error{Message: fmt.Sprintf("column %s: %v", columns[i].Name, err)}
			}
		}
		if err := writeLine(out, cells); err != nil {
			return false, err
		}
	}
}

// cellOf is a value as it stands on the wire: a day as ISO text, whatever is
// not a finite number as nothing.
func cellOf(v driver.Value) (any, error) {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, nil
		}
	case float32:
		return cellOf(float64(v))
	case time.Time:
		return cohort.DayOf(v), nil
	case *big.Int:
		if !v.IsInt64() {
			return nil, fmt.Errorf("%s is too large for a whole number; cast it to DOUBLE", v)
		}
		return v.Int64(), nil
	case uint64:
		if v > math.MaxInt64 {
			return nil, fmt.Errorf("%d is too large for a whole number; cast it to DOUBLE", v)
		}
	}
	return v, nil
}

var lineMark = regexp.MustCompile(`(?m)^LINE (\d+): (.*)\n( *)\^`)

// sqlError puts an error of the engine in plain words, with its place.
func sqlError(err error) *frame.Error {
	var known *frame.Error
	if errors.As(err, &known) {
		return known
	}
	text := err.Error()
	if strings.Contains(text, "Out of Memory") || strings.Contains(text, "bad_alloc") || strings.Contains(text, "bad allocation") {
		return errTooMuch
	}
	if strings.Contains(text, "disabled by configuration") || strings.Contains(text, "has been disabled") {
		return &frame.Error{Message: "files can't be read or written from a question; it sees the order book only"}
	}
	e := &frame.Error{}
	if at := lineMark.FindStringSubmatch(text); at != nil {
		e.Line, _ = strconv.Atoi(at[1])
		if lead := len("LINE : ") + len(at[1]); !strings.HasPrefix(at[2], "...") && len(at[3]) >= lead {
			e.Column = len(at[3]) - lead + 1
		}
		text = text[:strings.Index(text, "LINE "+at[1]+": ")]
	}
	e.Message = strings.Join(strings.Fields(text), " ")
	return e
}
