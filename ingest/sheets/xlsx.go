package sheets

import (
	"context"
	"errors"
)

// Workbook reads a workbook.
func Workbook(ctx context.Context, t *Table, dir string) ([]*Table, error) {
	return nil, errors.New("TODO")
}
