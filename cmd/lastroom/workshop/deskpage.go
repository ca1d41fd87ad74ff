package workshop

import (
	"context"
	"fmt"
	"maps"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/typed"
	"lastroom/notebooks/service"
	"lastroom/reports/letter"
)

// tallest is the height up to which the page has rows for leg girths.
const tallest = 18 * 25.4

// Heights are those of the shop's scheme.
func (p *Pages) Heights(ctx context.Context) (out []form.Height, err error) {
	err = p.with(ctx, func(d *openDesk) error {
		out = d.Scheme().Heights(tallest)
		return nil
	})
	return out, err
}

// Check judges a form that was typed in.
func (p *Pages) Check(ctx context.Context, f service.DeskForm) (answer *service.DeskAnswer, err error) {
	err = p.with(ctx, func(d *openDesk) error {
		good, wrong := readable(f)
		judged, err := d.JudgeTyped(ctx, typedOf(good, cohort.DayOf(p.clock())))
		if err != nil {
			return err
		}
		judged.ID, judged.Decision.FormID = f.Name, f.Name
		answer = d.answer(f, judged)
		for field, why := range wrong {
			answer.Doubts[field] = why
			answer.Verdict = "mend what can't be read"
		}
		return nil
	})
	return answer, err
}

// readable leaves out the numbers that are no lengths, and says so of each.
func readable(f service.DeskForm) (service.DeskForm, map[string]string) {
	wrong := map[string]string{}
	var good []service.DeskNumber
	for _, n := range f.Numbers {
		if _, err := lengths.Parse(n.Value, f.Unit, lengths.Options{DecimalComma: true}); err != nil {
			wrong[n.Field] = fmt.Sprintf("%q %v", n.Value, err)
			continue
		}
		good = append(good, n)
	}
	f.Numbers = good
	return f, wrong
}

// typedOf are the cells of the sheets that a form of the page fills.
func typedOf(f service.DeskForm, today cohort.Day) typed.Form {
	t := typed.Form{Order: maps.Clone(f.Order), Form: maps.Clone(f.Marks)}
	if f.Shaft != "" {
		t.Order["shaft_height_"+f.ShaftUnit.String()] = f.Shaft
	}
	t.Order["received_on"], t.Form["received_on"], t.Form["irregularities"] = today.String(), today.String(), f.Irregularities
	for _, n := range f.Numbers {
		t.Numbers = append(t.Numbers, TypedNumber(n.Place, n.Value, f.Unit))
	}
	return t
}

func (d *Desk) answer(f service.DeskForm, got Judged) *service.DeskAnswer {
	a := &service.DeskAnswer{Verdict: string(got.Decision.Verdict), Doc: d.Explain(got), Doubts: map[string]string{}}
	if l, ok := d.Letter(letter.English(), got); ok {
		a.Letter = l.Document()
	}
	for _, n := range f.Numbers {
		for _, x := range got.Decision.Doubts {
			if n.Place == x.Place && a.Doubts[n.Field] == "" { // the first is the likeliest
				a.Doubts[n.Field] = doubtWords(x, f.Unit)
			}
		}
	}
	return a
}

// doubtWords say a doubt beside its number.
func doubtWords(x desk.Doubt, unit form.Unit) string {
	words := "look again: " + x.Words
	if x.ExpectedMM != nil && x.LowMM != nil && x.HighMM != nil {
		words = fmt.Sprintf("look again: by the others %s (%s to %s)", unit.Text(*x.ExpectedMM), unit.Text(*x.LowMM), unit.Text(*x.HighMM))
		if x.Words != "" {
			words += "; " + x.Words
		}
	}
	return strings.TrimSpace(words)
}
