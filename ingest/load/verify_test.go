package load_test

import (
	"context"

	"lastroom/ingest/load"
	"lastroom/ingest/upkeep"
)

func init() {
	load.VerifyBook = func(ctx context.Context, book string) (problems, unfinished []string, err error) {
		v, err := upkeep.Verify(ctx, book)
		if err != nil {
			return nil, nil, err
		}
		return v.Problems, v.Unfinished, nil
	}
}
