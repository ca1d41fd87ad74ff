package judging

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/typed"
)

// A typedBook is the book in memory that holds the form being typed in, opened
// when the first one is.
type typedBook struct {
	mu   sync.Mutex
	book *typed.Book
}

func (t *typedBook) open(ctx context.Context, settings map[string]string) (_ *typed.Book, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.book == nil {
		t.book, err = typed.Open(ctx, settings)
	}
	return t.book, err
}

func (t *typedBook) close() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.book == nil {
		return nil
	}
	return t.book.Close()
}

// recalled keeps what the book said of a customer, since it is asked at each key
// while a form is typed in; a desk's book never changes.
type recalled struct {
	mu   sync.Mutex
	said map[string]any
}

// mostRecalled is how many answers are kept.
const mostRecalled = 200

// recall gives what was said under a key before, or asks. Questions about several
// forms are not kept.
func recall[T any](r *recalled, forms int, key string, ask func() (T, error)) (T, error) {
	if forms != 1 {
		return ask()
	}
	r.mu.Lock()
	said, known := r.said[key]
	r.mu.Unlock()
	if known {
		return said.(T), nil
	}
	got, err := ask()
	if err != nil {
		return got, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.said) >= mostRecalled || r.said == nil {
		r.said = map[string]any{}
	}
	r.said[key] = got
	return got, nil
}

// JudgeTyped judges a typed form, in memory, as it would be judged on sheets.
// Cells that can't be read are an error that names them; a form without a
// number is judged as well.
func (d *Desk) JudgeTyped(ctx context.Context, t typed.Form) (judged Judged, err error) {
	book, err := d.typed.open(ctx, d.settings)
	if err != nil {
		return judged, err
	}
	rejected, err := book.Read(ctx, t, func(r *orderbook.Reader) error {
		list, err := d.Judge(ctx, r, typed.ID)
		if err == nil && len(list) != 1 {
			err = errors.New("the form was not read")
		}
		if err == nil {
			judged = list[0]
		}
		return err
	})
	var wrong []error
	for _, r := range rejected {
		wrong = append(wrong, fmt.Errorf("%s %q: %s", strings.ReplaceAll(r.Column, "_", " "), r.Text, r.Reason))
	}
	if len(wrong) > 0 {
		err = workshop.BadInput(errors.Join(wrong...))
	}
	return judged, err
}

// TypedNumber are the cells of the measurements sheet of one number.
func TypedNumber(place form.Place, value string, unit form.Unit) map[string]string {
	cells := map[string]string{"side": place.Side.String(), "clothing": place.Clothing.String(), "point": place.Point.String(), "value": value, "unit": unit.String()}
	if place.HeightMM > 0 {
		cells["height"], cells["height_unit"] = strconv.FormatFloat(float64(place.HeightMM), 'f', -1, 64), form.Millimetre.String()
	}
	return cells
}
