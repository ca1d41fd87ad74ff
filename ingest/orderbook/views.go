package orderbook

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"

	"lastroom/analysis/form"
)

//go:embed sql/views/*.sql
var viewFiles embed.FS

// A View is a view of the book that a person's SQL may ask, with what it is
// and its columns, in words.
type View struct {
	Name  string
	About string // lines as in the view's file
	text  string // of the file, filled in
}

// Views are the documented views, in the order in which one rests on another.
func Views() []View { return viewsOf(form.Faults) }

// viewsOf are the views for a catalogue of faults.
func viewsOf(faults []form.Fault) (out []View) {
	names, _ := fs.Glob(viewFiles, "sql/views/*.sql") // the pattern is a good one; Glob sorts
	words := tradeWords(faults)
	for _, name := range names {
		text, _ := fs.ReadFile(viewFiles, name) // it was listed just now
		filled := words.Replace(string(text))
		var about []string
		for _, line := range strings.Split(filled, "\n") {
			line, ok := strings.CutPrefix(line, "--")
			if !ok {
				break
			}
			about = append(about, strings.TrimPrefix(line, " "))
		}
		title, rest, _ := strings.Cut(strings.Join(about, "\n"), ":")
		out = append(out, View{Name: title, About: strings.TrimSpace(rest), text: filled})
	}
	return out
}

// query is the query of a view.
func (v View) query() string {
	_, query, _ := strings.Cut(v.text, " AS\n")
	return strings.TrimSuffix(strings.TrimSpace(query), ";")
}

// faultColumn is the column of a fault in the views.
func faultColumn(f form.Fault) string { return strings.ReplaceAll(f.ID, "-", "_") }

// notAtRisk says in SQL which forms can't have a fault; "" where every form can.
func notAtRisk(f form.Fault) string {
	switch f.AtRisk {
	case form.WornTucked:
		return "worn_tucked IS NOT TRUE"
	case form.WithOrthotic:
		return "orthotic IS NOT TRUE"
	case form.FormsOfBoth:
		return "NOT both_sides"
	}
	return ""
}

// tradeWords fills in the views what package form says of faults, points and
// heights, so that they stand in one place.
func tradeWords(faults []form.Fault) *strings.Replacer {
	var columns, ofCut, with, unknown, states, formless, catalogue []string
	for k, f := range faults {
		c := faultColumn(f)
		columns, ofCut = append(columns, c), append(ofCut, "c."+c)
		catalogue = append(catalogue, fmt.Sprintf("(%d, '%s')", k, f.ID))
		if f.Kind != form.Evident {
			with = append(with, "coalesce("+c+", FALSE)::INTEGER")
			unknown = append(unknown, "("+c+" IS NULL)::INTEGER")
		}
		state := "coalesce(1 + " + c + "::BIGINT, 0)"
		if not := notAtRisk(f); not != "" {
			state = "CASE WHEN " + not + " THEN 3 ELSE " + state + " END"
			if f.AtRisk != form.FormsOfBoth { // known of the order alone
				formless = append(formless, fmt.Sprintf("CASE WHEN o.%s THEN 3::BIGINT << %d ELSE 0 END", not, 2*k))
			}
		}
		states = append(states, fmt.Sprintf("%s * (1::BIGINT << %d)", state, 2*k))
	}
	girths, ankle := 0, 1<<form.Ankle
	var needed []string
	for _, p := range form.FootGirths {
		girths |= 1 << p
		needed = append(needed, fmt.Sprintf("('%s', %d)", p, 1<<p))
	}
	needed = append(needed, fmt.Sprintf("('%s', %d)", form.Ankle, ankle))
	var sides []string
	for _, s := range form.Sides {
		sides = append(sides, "('"+s.String()+"')")
	}
	d := form.DefaultScheme
	return strings.NewReplacer(
		"{faults}", strings.Join(columns, ", "), "{faults of c}", strings.Join(ofCut, ", "),
		"{faults with}", "("+strings.Join(with, " + ")+") AS faults", "{faults unknown}", "("+strings.Join(unknown, " + ")+") AS faults_unknown",
		"{fault states}", strings.Join(states, "\n        + ")+" AS fault_states", "{formless states}", strings.Join(formless, " + "),
		"{catalogue}", strings.Join(catalogue, ", "),
		"{foot girths}", fmt.Sprintf("%[1]d - bit_count(n.foot_left & %[2]d) - bit_count(n.foot_right & %[2]d)", 2*len(form.FootGirths), girths),
		"{ankle}", fmt.Sprint(ankle), "{needed points}", strings.Join(needed, ", "), "{sides}", strings.Join(sides, ", "),
		"{first}", fmt.Sprint(d.FirstMM), "{step}", fmt.Sprint(d.StepMM), "{within}", fmt.Sprint(d.ToleranceMM),
		"{ankle girth}", string(d.AnkleGirth), "{heel girth}", string(d.HeelGirth))
}
