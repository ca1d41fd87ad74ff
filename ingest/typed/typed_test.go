package typed

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/rules"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
)

// example is a form with numbers in three units, one of them of another girth.
func example() Form {
	number := func(side, point, height, value, unit string) map[string]string {
		return map[string]string{"side": side, "clothing": "bare", "point": point, "height": height, "height_unit": "in", "value": value, "unit": unit}
	}
	return Form{
		Order: map[string]string{"received_on": "2026-10-01", "shaft_height_in": "11", "closure": "pull-on", "worn_tucked": "yes", "channel": "home", "sex": "f"},
		Form:  map[string]string{"received_on": "2026-10-01", "ball_mark_left": "no", "outline_closed_left": "yes", "irregularities": "a bunion"},
		Numbers: []map[string]string{
			number("left", "ball", "", "9 1/8", "in"), number("right", "ball", "", "23,5", "cm"), number("left", "instep", "", "245", "mm"),
			number("left", "leg", "7", "11 5/8\"", ""), number("right", "leg", "9", "13", "in"),
		},
	}
}

// written is the form as sheets.
func written(t testing.TB, f Form) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, rows ...map[string]string) {
		var head []string
		for k := range rows[0] {
			head = append(head, k)
		}
		text := strings.Join(head, ";") + "\n"
		for _, r := range rows {
			for i, k := range head {
				text += strings.Repeat(";", min(i, 1)) + `"` + strings.ReplaceAll(r[k], `"`, `""`) + `"`
			}
			text += "\n"
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".csv"), []byte(text), 0o600))
	}
	f.Order["order_id"], f.Form["order_id"], f.Form["form_id"], f.Form["form_no"] = ID, ID, ID, "1"
	for _, n := range f.Numbers {
		n["form_id"] = ID
	}
	write("orders", f.Order)
	write("forms", f.Form)
	write("measurements", f.Numbers...)
	return dir
}

// randomForm is a form with some cells left empty and some numbers left out.
func randomForm(r *rand.Rand) Form {
	f := example()
	for _, cells := range []map[string]string{f.Order, f.Form} {
		for k := range cells {
			if r.IntN(3) == 0 && k != "received_on" {
				cells[k] = ""
			}
		}
	}
	f.Order["shaft_height_in"] = []string{"", "8", "11", "17"}[r.IntN(4)]
	f.Form["outline_closed_right"] = []string{"yes", "no", ""}[r.IntN(3)]
	r.Shuffle(len(f.Numbers), func(i, j int) { f.Numbers[i], f.Numbers[j] = f.Numbers[j], f.Numbers[i] })
	f.Numbers = f.Numbers[:1+r.IntN(len(f.Numbers))]
	return f
}

// A form that is typed in is seen as the same form is when it is loaded, whatever
// was typed in before it: the example after a random one; with CI=true four random
// ones after it, each loaded too.
func TestTypedFormIsSeenAsALoadedOne(t *testing.T) {
	ctx := context.Background()
	settings := map[string]string{"ankle_girth": "none"}
	s, err := Open(ctx, settings)
	require.NoError(t, err)
	defer s.Close()
	seen := func(r *orderbook.Reader) string {
		forms, err := r.DeskForms(ctx, "")
		require.NoError(t, err)
		require.Len(t, forms, 1)
		held, err := r.HoldForms(ctx, rules.Default(), forms)
		require.NoError(t, err)
		return fmt.Sprintf("%+v %v", forms[0], held)
	}
	random := rand.New(rand.NewPCG(7, 11))
	forms := []Form{example()}
	for range 4 {
		forms = append(forms, randomForm(random))
	}
	if !breadth.Wide() {
		_, err := s.Read(ctx, forms[1], func(*orderbook.Reader) error { return nil })
		require.NoError(t, err)
		forms = forms[:1]
	}
	for i, f := range forms {
		var got string
		rejected, err := s.Read(ctx, f, func(r *orderbook.Reader) error { got = seen(r); return nil })
		require.NoError(t, err)
		require.Empty(t, rejected)

		db, report, err := load.InMemory(ctx, t.TempDir(), load.Options{Paths: []string{written(t, f)}, Shop: settings, Need: []string{"orders", "forms", "measurements"}})
		require.NoError(t, err)
		require.Empty(t, report.KeptOut)
		loaded, err := orderbook.NewReader(ctx, db, orderbook.Options{})
		require.NoError(t, err)
		require.Equal(t, seen(loaded), got, "form %d: %v", i, f)
		require.NoError(t, db.Close())
	}
	empty := Form{} // nothing of the one before is left
	_, err = s.Read(ctx, empty, func(r *orderbook.Reader) error {
		list, err := r.DeskForms(ctx, "")
		require.Len(t, list, 1)
		require.Empty(t, list[0].Numbers)
		require.True(t, math.IsNaN(list[0].ShaftMM))
		require.Len(t, list[0].Missing, 6, "the girths of both feet")
		return err
	})
	require.NoError(t, err)
}

func TestTypedFormThatCannotBeRead(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, nil)
	require.NoError(t, err)
	defer s.Close()
	for name, change := range map[string]func(*Form){
		"orders shaft_height eleven: ":                                    func(f *Form) { f.Order["shaft_height_in"] = "eleven" },
		"forms ball_mark_left perhaps: is":                                func(f *Form) { f.Form["ball_mark_left"] = "perhaps" },
		"measurements value about 9: ":                                    func(f *Form) { f.Numbers[0]["value"] = "about 9" },
		"measurements height 245: is given, but only the point leg":       func(f *Form) { f.Numbers[2]["height"] = "7" },
		"measurements value 9 1/8: this place of the form is there twice": func(f *Form) { f.Numbers[1]["side"] = "left" },
	} {
		f := example()
		change(&f)
		rejected, err := s.Read(ctx, f, func(*orderbook.Reader) error { t.Error("used"); return nil })
		require.NoError(t, err, name)
		require.NotEmpty(t, rejected, name)
		r := rejected[0]
		assert.Contains(t, fmt.Sprintf("%s %s %s: %s", r.File, r.Column, r.Text, r.Reason), name)
	}
	f := example()
	f.Order["shoe_size"] = "42"
	_, err = s.Read(ctx, f, nil)
	assert.ErrorContains(t, err, "has no column shoe_size")
}

// Several at once each see their own form; with CI=true more of them.
func TestTypedFormsAtTheSameTime(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, nil)
	require.NoError(t, err)
	defer s.Close()
	var all sync.WaitGroup
	for k := range breadth.Few(2, 4) {
		all.Go(func() {
			for i := range breadth.Few(3, 5) {
				f := example()
				f.Numbers[0]["value"] = fmt.Sprint(200 + 10*k + i)
				f.Numbers[0]["unit"] = "mm"
				_, err := s.Read(ctx, f, func(r *orderbook.Reader) error {
					forms, err := r.DeskForms(ctx, "")
					if assert.Len(t, forms, 1) {
						assert.Equal(t, float64(200+10*k+i), forms[0].Numbers[0].ValueMM)
					}
					return err
				})
				assert.NoError(t, err)
			}
		})
	}
	all.Wait()
}

func BenchmarkRead(b *testing.B) {
	ctx := context.Background()
	s, err := Open(ctx, nil)
	require.NoError(b, err)
	defer s.Close()
	for b.Loop() {
		_, err := s.Read(ctx, example(), func(r *orderbook.Reader) error {
			forms, err := r.DeskForms(ctx, "")
			if err != nil {
				return err
			}
			_, err = r.HoldForms(ctx, rules.Default(), forms)
			return err
		})
		require.NoError(b, err)
	}
}
