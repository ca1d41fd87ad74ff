package bookfile

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/engine"
)

//go:embed sql/checksum.sql
var checksumSQL string

// numberedReports is the schema version from which on a report of fit may have a
// number of its own.
const numberedReports = 3

// letteredForms is that from which on a form may have the letter of its instructions.
const letteredForms = 4

// Checksum is an order-free sum over the content that holds now, whichever
// loads brought it: two books with the same rows have the same sum. The
// measurements count through the set sums of form_numbers, which verify works
// out again.
func Checksum(ctx context.Context, conn *sql.Conn) (sum string, err error) {
	version, err := SchemaVersion(ctx, conn)
	if err != nil {
		return "", err
	}
	reports := "reports"
	if version < numberedReports { // a backup of an older program, before it is brought up
		reports = "reports before version 3"
	}
	forms := "forms"
	if version < letteredForms {
		forms = "forms before version 4"
	}
	query := engine.Section(checksumSQL, "sum", "{reports}", engine.Section(checksumSQL, reports), "{forms}", engine.Section(checksumSQL, forms))
	err = conn.QueryRowContext(ctx, query).Scan(&sum)
	return sum, err
}

//go:embed sql/form_numbers.sql
var formNumbersSQL string

// FormNumbers is the query of what the numbers of each form amount to (the table
// form_numbers, with first and duplicates beside), of a query or table of measurements
// with their ord and row_hash.
func FormNumbers(rows string) string {
	d := form.DefaultScheme
	return strings.NewReplacer("{rows}", rows, "{heights}", fmt.Sprint(form.MostHeights), "{first}", fmt.Sprint(d.FirstMM),
		"{step}", fmt.Sprint(d.StepMM), "{within}", fmt.Sprint(d.ToleranceMM)).Replace(formNumbersSQL)
}

// RowHash is the hash, in SQL, of what a row of the view measurements says of its
// form; form_numbers keeps the sum over the form's rows. What was written hangs
// on few words, so that their hashes can be had beforehand.
const RowHash = `hash(side, clothing, point, CASE WHEN height_mm IS NOT NULL THEN hash(height_mm, height_written) END,
	hash(value_mm, value_written, unit))`
