package engine

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"slices"
	"strings"

	"github.com/marcboeker/go-duckdb/v2"
)

// Quote writes text as an SQL string.
func Quote(text string) string { return "'" + strings.ReplaceAll(text, "'", "''") + "'" }

// QuoteName writes a name as an SQL identifier.
func QuoteName(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// Section is the part of an SQL file under a line `-- part: name`, with values put
// for names in braces: "{name}", value, and so on.
func Section(text, name string, values ...string) string {
	_, body, _ := strings.Cut(text, "-- part: "+name+"\n")
	body, _, _ = strings.Cut(body, "-- part: ")
	return strings.NewReplacer(values...).Replace(body)
}

// NamedQueries takes a file of queries apart, by the name after the mark.
func NamedQueries(file, mark string) map[string]string {
	queries := map[string]string{}
	for _, part := range Statements(file) {
		_, part, found := strings.Cut(part, mark)
		name, query, ok := strings.Cut(part, "\n")
		if found && ok {
			queries[name] = strings.TrimSpace(query)
		}
	}
	return queries
}

// Statements takes apart statements that end with a semicolon at the end of a line.
func Statements(text string) []string {
	return slices.DeleteFunc(strings.Split(text, ";\n"), func(q string) bool { return strings.TrimSpace(q) == "" })
}

// Script runs statements, see [Statements].
func Script(ctx context.Context, conn *sql.Conn, text string) error {
	for _, q := range Statements(text) {
		if _, err := conn.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// Number runs a query of one number.
func Number(ctx context.Context, conn *sql.Conn, query string) (n int64, err error) {
	err = conn.QueryRowContext(ctx, query).Scan(&n)
	return n, err
}

// Texts runs a query and gives its answer as texts; NULL is "".
func Texts(ctx context.Context, conn *sql.Conn, query string, args ...any) (out [][]string, err error) {
	rows, err := conn.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	cells, refs := make([]sql.NullString, len(columns)), make([]any, len(columns))
	for i := range cells {
		refs[i] = &cells[i]
	}
	for rows.Next() {
		if err := rows.Scan(refs...); err != nil {
			return nil, err
		}
		line := make([]string, len(columns))
		for i, c := range cells {
			line[i] = c.String
		}
		out = append(out, line)
	}
	return out, rows.Err()
}

// Columns are the names of a query's columns.
func Columns(ctx context.Context, conn *sql.Conn, query string) ([]string, error) {
	rows, err := conn.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	return rows.Columns()
}

// Catalog is the name of the database that statements of the connection go to.
func Catalog(ctx context.Context, conn *sql.Conn) (name string) {
	if conn.QueryRowContext(ctx, "SELECT current_database()").Scan(&name) != nil {
		return ""
	}
	return name
}

// Append appends rows to a table in bulk. Every row must hold a value of
// the column's own type or nil in each place.
func Append(conn *sql.Conn, catalog, table string, fill func(add func(...driver.Value) error) error) error {
	return conn.Raw(func(c any) error {
		a, err := duckdb.NewAppender(c.(driver.Conn), catalog, "main", table)
		if err != nil {
			return err
		}
		return errors.Join(fill(a.AppendRow), a.Close())
	})
}

// EachRow runs a query below database/sql, whose conversions would cost
// more than the query, and calls row for each row until it gives an error. The
// values are the row's for that call only.
func EachRow(ctx context.Context, conn *sql.Conn, query string, row func([]driver.Value) error) error {
	return conn.Raw(func(c any) (err error) {
		rows, err := c.(*duckdb.Conn).QueryContext(ctx, query, nil)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, rows.Close()) }()
		values := make([]driver.Value, len(rows.Columns()))
		for {
			if err := rows.Next(values); err == io.EOF {
				return nil
			} else if err != nil {
				return err
			}
			if err := row(values); err != nil {
				return err
			}
		}
	})
}

// A Kind is what a statement does.
type Kind int

// The kinds that a question can be; anything else is Other.
const (
	Other Kind = iota
	Select
	Explain
)

// ErrSeveral is the error of a text that is not one statement.
var ErrSeveral = errors.New("there are several statements")

// Prepare prepares one statement on a connection below database/sql, which would
// run all but the last of several, and gives its kind and the names of its
// parameters, in their order. Nothing is run.
func Prepare(conn driver.Conn, text string) (kind Kind, parameters []string, err error) {
	s, err := conn.Prepare(text)
	if err != nil {
		if strings.Contains(err.Error(), "multiple statements") || strings.Contains(err.Error(), "PrepareContext") {
			err = ErrSeveral
		}
		return Other, nil, err
	}
	defer s.Close()
	stmt := s.(*duckdb.Stmt)
	is, err := stmt.StatementType()
	if err != nil {
		return Other, nil, err
	}
	switch is {
	case duckdb.STATEMENT_TYPE_SELECT:
		kind = Select
	case duckdb.STATEMENT_TYPE_EXPLAIN:
		kind = Explain
	}
	for i := range stmt.NumInput() {
		name, err := stmt.ParamName(i + 1)
		if err != nil {
			return Other, nil, err
		}
		parameters = append(parameters, name)
	}
	return kind, parameters, nil
}
