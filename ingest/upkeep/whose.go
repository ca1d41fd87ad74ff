package upkeep

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/grid"
	"lastroom/ingest/keyed"
	"lastroom/ingest/layout"
	"lastroom/ingest/sheets"
)

// personIDs are the ids that stand for a person: by the folded name of the
// column they stand in.
type personIDs map[string]map[string]bool

// has reports whether a cell holds one of the ids; where the column is not known,
// any of them that tells whose it is.
func (ids personIDs) has(column, cell string) bool {
	if column != "" {
		return ids[column][cell]
	}
	return telling(cell) && ids.each(func(_, id string) bool { return id == cell })
}

// whose finds all ids that stand for a customer: those of the tables, of a
// forgetting that was cut short, and of the kept sheets, since a form is in the
// book though its order's row was refused. It leaves them in the temporary
// tables gone_order and gone_form.
func whose(ctx context.Context, w *bookfile.Writer, customer string, begun *forgetting) (personIDs, error) {
	if _, err := w.Conn.ExecContext(ctx, engine.Section(forgetSQL, "told")); err != nil {
		return nil, err
	}
	told := personIDs{"order_id": {}, "form_id": {}}
	tell := func(column, id string) (err error) {
		if id != "" && !told[column][id] {
			told[column][id] = true
			table := map[string]string{"order_id": "told_order", "form_id": "told_form"}[column]
			_, err = w.Conn.ExecContext(ctx, "INSERT INTO "+table+" VALUES (?)", id)
		}
		return err
	}
	if begun != nil {
		for column, list := range map[string][]string{"order_id": begun.Orders, "form_id": begun.Forms} {
			for _, id := range list {
				if err := tell(column, id); err != nil {
					return nil, err
				}
			}
		}
	}
	kept, err := keptSheetsOf(w.Files)
	if err != nil {
		return nil, err
	}
	mappings, err := mapsOf(ctx, w.Conn)
	if err != nil {
		return nil, err
	}
	for {
		ids, err := goneIDs(ctx, w.Conn, customer)
		if err != nil {
			return nil, err
		}
		before := len(told["order_id"]) + len(told["form_id"])
		typed, err := keyed.Store{Files: w.Files}.Of(customer, ids["order_id"])
		if err != nil {
			return nil, err
		}
		for _, r := range typed {
			err := tell("order_id", r.OrderID)
			for _, f := range r.Forms {
				err = errors.Join(err, tell("form_id", f.ID))
			}
			if err != nil {
				return nil, err
			}
		}
		for _, name := range kept {
			err := eachOwner(ctx, w.Files, name, mappings[keptName(name)], func(row map[string]string) (err error) {
				if row["customer_id"] == customer {
					err = tell("order_id", row["order_id"])
				}
				if ids["order_id"][row["order_id"]] {
					err = errors.Join(err, tell("form_id", row["form_id"]))
				}
				return err
			})
			if err != nil {
				return nil, fmt.Errorf("looking for a person in the kept sheet %s: %w", name, err)
			}
		}
		if len(told["order_id"])+len(told["form_id"]) == before {
			return ids, nil
		}
	}
}

// goneIDs makes gone_order and gone_form and reads them.
func goneIDs(ctx context.Context, conn *sql.Conn, customer string) (personIDs, error) {
	for _, s := range engine.Statements(engine.Section(forgetSQL, "whose")) {
		var args []any
		if strings.Contains(s, "$1") {
			args = append(args, customer)
		}
		if _, err := conn.ExecContext(ctx, s, args...); err != nil {
			return nil, fmt.Errorf("looking for a person: %w", err)
		}
	}
	orders, err := idsOf(ctx, conn, "gone_order", "order_id")
	if err != nil {
		return nil, err
	}
	forms, err := idsOf(ctx, conn, "gone_form", "form_id")
	who := map[string]bool{customer: true}
	return personIDs{"customer_id": who, "subject_id": who, "order_id": orders, "earlier_order_id": orders, "remake_of_order_id": orders, "form_id": forms}, err
}

func idsOf(ctx context.Context, conn *sql.Conn, table, column string) (map[string]bool, error) {
	rows, err := conn.QueryContext(ctx, "SELECT "+column+" FROM "+table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	ids := map[string]bool{}
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids[id] = true
	}
	return ids, rows.Err()
}

func keptSheetsOf(f bookfile.Files) (names []string, err error) {
	entries, err := os.ReadDir(f.Sheets())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names, nil
}

// A mapped is how a kept sheet came in: its name then, and its mapping.
type mapped struct{ file, sha256 string }

// mapsOf are the sheets that were read through a mapping, by their hash.
func mapsOf(ctx context.Context, conn *sql.Conn) (map[string]mapped, error) {
	rows, err := engine.Texts(ctx, conn, "SELECT DISTINCT sha256, file, map_sha256 FROM load_files WHERE coalesce(map_sha256, '') <> '' ORDER BY ALL")
	if err != nil {
		return nil, err
	}
	out := map[string]mapped{}
	for _, r := range rows {
		file, _, _ := strings.Cut(r[1], ", tab ")
		out[r[0]] = mapped{filepath.Base(file), r[2]}
	}
	return out, nil
}

// eachOwner calls do with the cells of each row of a kept sheet that say whose
// it is, by the names of the order sheets' columns: of a sheet read through a
// mapping, with what the mapping makes of it. A sheet that can't be read has none.
func eachOwner(ctx context.Context, f bookfile.Files, name string, m mapped, do func(row map[string]string) error) error {
	path, dir := filepath.Join(f.Sheets(), name), filepath.Join(f.Work(), "whose")
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	switch strings.ToLower(filepath.Ext(name)) {
	case ".yaml", ".yml":
		return nil
	case ".parquet":
		return eachOwnerOfParquet(ctx, path, do)
	}
	t, err := sheets.Intake(ctx, path, filepath.Join(dir, "kept"+filepath.Ext(name)))
	if err != nil {
		return ctx.Err()
	}
	if m.sha256 != "" {
		mapping, err := layout.Read(filepath.Join(f.Sheets(), m.sha256+".yaml"))
		if err != nil {
			return nil // the mapping is lost; the sheet goes whole where it names the person
		}
		t.Name = m.file
		found, err := mapping.Convert(ctx, []layout.File{{Table: t, Path: filepath.Join(dir, m.file)}}, dir)
		if err != nil {
			return ctx.Err()
		}
		for _, p := range found.Parts {
			if err := eachOwnerOf(ctx, p.Table, do); err != nil {
				return err
			}
		}
		return nil
	}
	return eachOwnerOf(ctx, t, do)
}

// eachOwnerOf looks for the row that names the columns among the first ones.
func eachOwnerOf(ctx context.Context, t *sheets.Table, do func(row map[string]string) error) error {
	const header = 30 // rows above the header that a tab may have
	grids, err := t.Grids()
	if err != nil {
		return ctx.Err()
	}
	for _, g := range grids {
		var columns map[int]string
		var failed error
		rows := 0
		err := g.Rows(ctx, func(r grid.Row) bool {
			rows++
			if len(columns) == 0 {
				texts := make([]string, len(r.Cells))
				for i, c := range r.Cells {
					texts[i] = c.Text
				}
				columns = sheets.WhoseColumns(texts)
				if len(columns) > 0 && !slices.Contains(slices.Collect(maps.Values(columns)), "order_id") {
					return false // it tells of no order whose it is
				}
				return rows < header || len(columns) > 0
			}
			row := map[string]string{}
			for i, name := range columns {
				if i < len(r.Cells) {
					row[name] = strings.TrimSpace(r.Cells[i].Text)
				}
			}
			failed = do(row)
			return failed == nil
		})
		if err := errors.Join(failed, ctx.Err()); err != nil {
			return err
		}
		if err != nil {
			return nil // it was not taken as a sheet either
		}
	}
	return nil
}

func eachOwnerOfParquet(ctx context.Context, path string, do func(row map[string]string) error) (err error) {
	db, err := engine.Open(ctx, "", false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	from := " FROM read_parquet(" + engine.Quote(path) + ")"
	header, err := engine.Columns(ctx, conn, "SELECT *"+from+" LIMIT 0")
	if err != nil {
		return ctx.Err()
	}
	columns, names, picked := sheets.WhoseColumns(header), []string{}, []string{}
	for i, h := range header {
		if name, ok := columns[i]; ok {
			names = append(names, name)
			picked = append(picked, "coalesce(trim("+engine.QuoteName(h)+"::VARCHAR), '')")
		}
	}
	if !slices.Contains(names, "order_id") {
		return nil
	}
	rows, err := engine.Texts(ctx, conn, "SELECT DISTINCT "+strings.Join(picked, ", ")+from)
	if err != nil {
		return err
	}
	for _, r := range rows {
		row := map[string]string{}
		for i, name := range names {
			row[name] = r[i]
		}
		if err := do(row); err != nil {
			return err
		}
	}
	return nil
}
