package workshop

import (
	"context"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/upkeep"
	"lastroom/notebooks/archive"
)

// Verify reads all of a book, and of the runs kept beside it.
func Verify(ctx context.Context, book string) (*upkeep.Verification, error) {
	v, err := upkeep.Verify(ctx, book)
	if err != nil {
		return nil, err
	}
	wrong, _, err := archive.Store{Dir: bookfile.FilesOf(book).Runs()}.Verify()
	v.Problems = append(v.Problems, wrong...)
	return v, err
}
