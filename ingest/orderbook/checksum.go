package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
)

//go:embed sql/checksum.sql
var checksumSQL string

// Checksum is an order-free sum over the content that holds now, whichever
// loads brought it: two books with the same rows have the same sum. The
// measurements count through the set sums of form_numbers, which verify works
// out again.
func Checksum(ctx context.Context, conn *sql.Conn) (sum string, err error) {
	err = conn.QueryRowContext(ctx, checksumSQL).Scan(&sum)
	return sum, err
}
