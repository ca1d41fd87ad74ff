package engine

import (
	"database/sql"

	"github.com/marcboeker/go-duckdb/v2"
)

// RowsFunction makes a table function of a connection's database: name() has the columns,
// all of texts, and the rows that rows gives when a question begins to read them. No text
// is NULL, which the driver can't hand over here (go-duckdb 2.4.3 panics). Plans hold
// whatever the rows are: nothing is known of them beforehand.
func RowsFunction(conn *sql.Conn, name string, columns []string, rows func() [][]string) error {
	text, err := duckdb.NewTypeInfo(duckdb.TYPE_VARCHAR)
	if err != nil {
		return err
	}
	infos := make([]duckdb.ColumnInfo, len(columns))
	for i, c := range columns {
		infos[i] = duckdb.ColumnInfo{Name: c, T: text}
	}
	return duckdb.RegisterTableUDF(conn, name, duckdb.RowTableFunction{
		BindArguments: func(map[string]any, ...any) (duckdb.RowTableSource, error) {
			return &rowSource{columns: infos, rows: rows}, nil
		},
	})
}

// A rowSource reads the rows of a RowsFunction for one place of a question.
type rowSource struct {
	columns []duckdb.ColumnInfo
	rows    func() [][]string
	left    [][]string
}

func (s *rowSource) ColumnInfos() []duckdb.ColumnInfo     { return s.columns }
func (s *rowSource) Cardinality() *duckdb.CardinalityInfo { return nil }
func (s *rowSource) Init()                                { s.left = s.rows() }

// FillRow hands over the next row, of which the engine takes the columns it needs.
func (s *rowSource) FillRow(row duckdb.Row) (bool, error) {
	if len(s.left) == 0 {
		return false, nil
	}
	for i, v := range s.left[0] {
		if row.IsProjected(i) {
			if err := row.SetRowValue(i, v); err != nil {
				return false, err
			}
		}
	}
	s.left = s.left[1:]
	return true, nil
}
