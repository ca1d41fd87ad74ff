package loading

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/keyed"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
)

var at = time.Date(2026, 10, 5, 9, 0, 0, 0, time.UTC)

func day(t testing.TB, s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	require.NoError(t, err)
	return d
}

func store(t testing.TB) keyed.Store {
	return keyed.Store{Files: bookfile.FilesOf(filepath.Join(t.TempDir(), "shop.duckdb"))}
}

func number(side, point, value string) map[string]string {
	return map[string]string{"side": side, "clothing": "bare", "point": point, "value": value, "unit": "in"}
}

// first is a form without tape marks, about which the customer is asked.
func first(order string) (keyed.Form, map[string]string) {
	f := keyed.Form{ID: order + "-1", No: 1, Unit: form.Inch, By: "Ann", At: at,
		Cells:   map[string]string{"form_no": "1", "received_on": "2026-10-05", "ball_mark_left": "no", "irregularities": "a bunion, left; \"sore\""},
		Numbers: []map[string]string{number("left", "ball", "9 1/8"), number("right", "ball", "9,25"), number("left", "heel", "13")},
		Said:    keyed.Said{Verdict: "ask", Held: true, Reasons: []string{"marks"}, Faults: []string{"tape-marks-missing"}}}
	return f, map[string]string{"customer_id": "C1", "received_on": "2026-10-05", "shaft_height_in": "11", "worn_tucked": "yes", "channel": "home", "sex": ""}
}

// mended is the form that answers it.
func mended(order string) keyed.Form {
	f, _ := first(order)
	f.ID, f.No, f.Said = order+"-2", 2, keyed.Said{Verdict: "cut"}
	f.Cells = map[string]string{"form_no": "2", "received_on": "2026-10-09", "ball_mark_left": "yes"}
	return f
}

// asSheets is what the same forms look like on sheets.
func asSheets(t *testing.T) string {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"orders":       "order_id,customer_id,received_on,cut_on,shaft_height_in,worn_tucked,channel,sex\nO1,C1,2026-10-05,2026-10-10,11,yes,home,\n",
		"forms":        "form_id,order_id,form_no,received_on,cut_from,ball_mark_left,irregularities\nO1-1,O1,1,2026-10-05,no,no,\"a bunion, left; \"\"sore\"\"\"\nO1-2,O1,2,2026-10-09,yes,yes,\n",
		"measurements": "form_id;side;clothing;point;value;unit\nO1-1;left;bare;ball;9 1/8;in\nO1-1;right;bare;ball;9,25;in\nO1-1;left;bare;heel;13;in\nO1-2;left;bare;ball;9 1/8;in\nO1-2;right;bare;ball;9,25;in\nO1-2;left;bare;heel;13;in\n",
		"callbacks":    "form_id,called_on,fault,resolved,resolved_on\nO1-1,2026-10-06,tape-marks-missing,yes,2026-10-09\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".csv"), []byte(text), 0o600))
	}
	return dir
}

// seen is all that a book knows of an order, without the numbers of its loads.
func seen(t testing.TB, book, order string) string {
	r, err := orderbook.OpenReader(context.Background(), book, orderbook.Options{AsOf: cohort.NoDay})
	require.NoError(t, err)
	defer r.Close()
	o, found, err := r.Order(context.Background(), order)
	require.NoError(t, err)
	require.True(t, found)
	o.History = nil
	text := ""
	for _, f := range o.Forms {
		numbers, err := r.Numbers(context.Background(), f.ID)
		require.NoError(t, err)
		text += fmt.Sprintf("%s %v\n", f.ID, numbers)
	}
	b, err := json.Marshal(o)
	require.NoError(t, err)
	text += string(b)
	for n := range 9 {
		text = strings.ReplaceAll(text, fmt.Sprintf(`"load":%d`, n), `"load":0`)
	}
	return text
}

// What is typed in at the desk over five days is in the book as if it had come on
// sheets, loaded once at the end; with CI=true after each step, too. Every day
// TestLaterLoadsDontBringBackWhatSheetsChanged loads twice.
func TestKeyedIsInTheBookAsLoadedFromSheets(t *testing.T) {
	ctx := context.Background()
	opt := load.Options{Program: "test", Now: at}
	want := filepath.Join(t.TempDir(), "sheets.duckdb")
	o := opt
	o.Paths, o.Need = []string{asSheets(t)}, []string{}
	report, err := load.Sheets(ctx, want, o)
	require.NoError(t, err)
	require.Empty(t, report.KeptOut)
	for _, often := range []bool{false, true} {
		if often && !breadth.Wide() {
			continue
		}
		s := store(t)
		put := func() {
			if often {
				report, err := Load(ctx, s, opt)
				require.NoError(t, err)
				require.Empty(t, report.KeptOut)
			}
		}
		f, order := first("O1")
		// A slip of the pen in the first version: a number that is not on the paper.
		slip := f
		slip.Numbers = append([]map[string]string{number("left", "instep", "9")}, f.Numbers...)
		r, err := s.Change("O1", 0, func(r *keyed.Record) error { r.Keep(slip, order); return nil })
		require.NoError(t, err)
		put()
		r, err = s.Change("O1", r.Version, func(r *keyed.Record) error { r.Keep(f, nil); return nil })
		require.NoError(t, err)
		put()
		r, err = s.Change("O1", r.Version, func(r *keyed.Record) error {
			r.Ask(r.Last(), keyed.Call{FormID: "O1-1", On: day(t, "2026-10-06"), By: "Ann", How: "letter"})
			return nil
		})
		require.NoError(t, err)
		put()
		r, err = s.Change("O1", r.Version, func(r *keyed.Record) error {
			r.Keep(mended("O1"), nil)
			r.Answer(day(t, "2026-10-09"), nil)
			return nil
		})
		require.NoError(t, err)
		put()
		_, err = s.Change("O1", r.Version, func(r *keyed.Record) error { r.Close(keyed.Cut, day(t, "2026-10-10"), "O1-2"); return nil })
		require.NoError(t, err)
		_, err = Load(ctx, s, opt)
		require.NoError(t, err)
		assert.Equal(t, seen(t, want, "O1"), seen(t, s.Files.Book, "O1"), "often %v", often)
		assert.False(t, s.Waits())
		list, err := s.Open()
		require.NoError(t, err)
		assert.Empty(t, list, "it was cut, and is in the book")
		again, err := Load(ctx, s, opt)
		require.NoError(t, err)
		assert.Nil(t, again, "nothing waits: nothing is loaded")
		kept, err := s.Get("O1")
		require.NoError(t, err)
		assert.Equal(t, keyed.Cut, kept.Closed)
		assert.Equal(t, day(t, "2026-10-09"), kept.Calls[0].Answered)
	}
}

// A load leaves alone what sheets have said since, and is not kept from it by an order
// that the book does not take.
func TestLaterLoadsDontBringBackWhatSheetsChanged(t *testing.T) {
	ctx := context.Background()
	s := store(t)
	wrong, order := first("O2")
	wrong.Numbers[1]["value"] = "about nine"
	_, err := s.Change("O2", 0, func(r *keyed.Record) error { r.Keep(wrong, order); return nil })
	require.NoError(t, err)
	f, order := first("O1")
	r, err := s.Change("O1", 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
	require.NoError(t, err)
	report, err := Load(ctx, s, load.Options{Now: at})
	require.NoError(t, err)
	require.Len(t, report.KeptOut, 1)
	bad, err := s.Get("O2")
	require.NoError(t, err)
	assert.Contains(t, bad.Refused, "about nine")
	assert.NotEmpty(t, bad.Waiting)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "orders.csv"), []byte("order_id,shaft_height_in,shipped_on\nO1,17,2026-11-01\n"), 0o600))
	_, err = load.Sheets(ctx, s.Files.Book, load.Options{Paths: []string{dir}, Now: at, Need: []string{}})
	require.NoError(t, err)
	_, err = s.Change("O1", r.Version, func(r *keyed.Record) error { r.Close(keyed.Cut, day(t, "2026-10-10"), "O1-1"); return nil })
	require.NoError(t, err)
	_, err = Load(ctx, s, load.Options{Now: at})
	require.NoError(t, err)
	text := seen(t, s.Files.Book, "O1")
	assert.Contains(t, text, `"shaft_height_mm","value":"431.8"`)
	assert.Contains(t, text, `"shipped_on","value":"2026-11-01"`)
	assert.Contains(t, text, `"cut_on","value":"2026-10-10"`)
}

// What the book does not take goes on waiting, with the reason; the rest goes in. Mended
// it goes in, too.
func TestWhatTheBookRefusesWaits(t *testing.T) {
	breadth.Leave(t, "TestLaterLoadsDontBringBackWhatSheetsChanged has an order that is refused")
	ctx := context.Background()
	s := store(t)
	for _, id := range []string{"O1", "O2"} {
		f, order := first(id)
		if id == "O2" {
			f.Numbers[1]["value"] = "about nine"
		}
		_, err := s.Change(id, 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
		require.NoError(t, err)
	}
	report, err := Load(ctx, s, load.Options{Now: at})
	require.NoError(t, err)
	require.Len(t, report.KeptOut, 1)
	good, err := s.Get("O1")
	require.NoError(t, err)
	assert.Empty(t, good.Waiting)
	bad, err := s.Get("O2")
	require.NoError(t, err)
	assert.Contains(t, bad.Refused, "about nine")
	assert.NotEmpty(t, bad.Waiting)
	f, _ := first("O2")
	_, err = s.Change("O2", 1, func(r *keyed.Record) error { r.Keep(f, nil); return nil })
	require.NoError(t, err)
	_, err = Load(ctx, s, load.Options{Now: at})
	require.NoError(t, err)
	bad, err = s.Get("O2")
	require.NoError(t, err)
	assert.Empty(t, bad.Refused)
	assert.False(t, s.Waits())
}

// Two who saw the same version: the second is told, and gets what the first kept.
// Many at once, each with an order of their own, lose nothing; with CI=true while loads
// go on, and in the book, too.
func TestSeveralAtOnce(t *testing.T) {
	ctx := context.Background()
	s := store(t)
	f, order := first("O1")
	_, err := s.Change("O1", 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
	require.NoError(t, err)
	other := f
	other.By = "Ben"
	now, err := s.Change("O1", 0, func(r *keyed.Record) error { r.Keep(other, order); return nil })
	require.ErrorIs(t, err, keyed.ErrChanged)
	assert.Equal(t, "Ann", now.Last().By)
	_, err = s.Change("O9", 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
	require.ErrorIs(t, err, keyed.ErrTaken)
	_, err = s.Get("O9")
	require.ErrorIs(t, err, keyed.ErrNone)

	var all sync.WaitGroup
	won := make([]int, 4)
	for k := range 4 {
		all.Go(func() {
			for i := range 5 {
				id := fmt.Sprintf("P%d-%d", k, i)
				f, order := first(id)
				_, err := s.Change(id, 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
				assert.NoError(t, err)
				if _, err := s.Change("O1", i+1, func(r *keyed.Record) error { r.Order["sock"] = id; return nil }); err == nil {
					won[k]++
				} else {
					assert.ErrorIs(t, err, keyed.ErrChanged)
				}
			}
		})
	}
	if breadth.Wide() {
		all.Go(func() {
			for range 2 {
				_, err := Load(ctx, s, load.Options{Now: at})
				assert.NoError(t, err)
			}
		})
	}
	all.Wait()
	now, err = s.Get("O1")
	require.NoError(t, err)
	assert.Equal(t, 1+won[0]+won[1]+won[2]+won[3], now.Version, "each change that was accepted counts once")
	list, err := s.Open()
	require.NoError(t, err)
	assert.Len(t, list, 21)
	if !breadth.Wide() {
		return
	}
	_, err = Load(ctx, s, load.Options{Now: at})
	require.NoError(t, err)
	list, err = s.Open()
	require.NoError(t, err)
	assert.Len(t, list, 21)
	assert.False(t, s.Waits())
	for k := range 4 {
		assert.Contains(t, seen(t, s.Files.Book, fmt.Sprintf("P%d-4", k)), "9 1/8")
	}
}

func TestVerifyAndForget(t *testing.T) {
	s := store(t)
	wrong, waiting, err := s.Verify()
	require.NoError(t, err)
	assert.Empty(t, wrong)
	assert.Zero(t, waiting)
	for _, id := range []string{"O1", "O2"} {
		f, order := first(id)
		order["customer_id"] = "of " + id
		_, err := s.Change(id, 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
		require.NoError(t, err)
	}
	_, waiting, err = s.Verify()
	require.NoError(t, err)
	assert.Equal(t, 2, waiting)
	list, err := s.Of("of O1", nil)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.NoError(t, s.Forget(list))
	err = filepath.WalkDir(s.Files.Dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.NotContains(t, string(text), "O1")
		}
		return err
	})
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(s.Files.Keyed(), "*.json"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	path := files[0]
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, at := range []int{3, 70, len(text) - 3} {
		bad := append([]byte{}, text...)
		bad[at] ^= 4
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		wrong, _, err = s.Verify()
		require.NoError(t, err)
		assert.Len(t, wrong, 1)
		_, err = s.Get("O2")
		assert.ErrorIs(t, err, keyed.ErrDamaged)
	}
}

// While somebody is forgotten nothing is loaded; with CI=true it is afterwards.
func TestStill(t *testing.T) {
	s := store(t)
	f, order := first("O1")
	_, err := s.Change("O1", 0, func(r *keyed.Record) error { r.Keep(f, order); return nil })
	require.NoError(t, err)
	goOn, err := s.Still()
	require.NoError(t, err)
	_, err = Load(context.Background(), s, load.Options{Now: at})
	assert.True(t, errors.Is(err, bookfile.ErrBusy), err)
	goOn()
	if !breadth.Wide() {
		return
	}
	_, err = Load(context.Background(), s, load.Options{Now: at})
	assert.NoError(t, err)
}
