package orderbook

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"

	"lastroom/analysis/form"
)

//go:embed sql/views/*.sql
var viewFiles embed.FS

// A View is a view of the book that a person's SQL may ask, with what it is
// and its columns, in words.
type View struct {
	Name    string
	About   string
	Columns []Column
	text    string // of the file, filled in
	names   map[string]bool
}

// A Column is one column of a view, or several that are told together.
type Column struct {
	Names string // as they stand in the view's file: a, b … z
	About string // empty where the names say it
}

var documented = sync.OnceValue(func() []View { return viewsOf(form.Faults) })

// Views are the documented views, in the order in which one rests on another.
func Views() []View { return documented() }

// viewsOf are the views for a catalogue of faults.
func viewsOf(faults []form.Fault) (out []View) {
	names, _ := fs.Glob(viewFiles, "sql/views/*.sql") // the pattern is a good one; Glob sorts
	words := tradeWords(faults)
	for _, name := range names {
		text, _ := fs.ReadFile(viewFiles, name) // it was listed just now
		filled := words.Replace(string(text))
		v := View{text: filled}
		for _, line := range strings.Split(filled, "\n") {
			line, ok := strings.CutPrefix(line, "--")
			if !ok {
				break
			}
			v.explain(line)
		}
		v.Name, v.About, _ = strings.Cut(v.About, ": ")
		v.About = form.Capitalised(v.About)
		v.names = namesIn(filled)
		out = append(out, v)
	}
	return out
}

// explain takes one line of the remark that a view's file begins with: first what the view
// is, then a column on each line that stands in by three blanks, what it means behind two
// more blanks and on the lines below that stand in further.
func (v *View) explain(line string) {
	const columns, further = "   ", "      "
	text := strings.TrimSpace(line)
	last := len(v.Columns) - 1
	switch {
	case !strings.HasPrefix(line, columns):
		v.About = strings.TrimSpace(v.About + " " + text)
	case strings.HasPrefix(line, further):
		v.Columns[last].About = strings.TrimSpace(v.Columns[last].About + " " + text)
	default:
		names, about, _ := strings.Cut(text, "  ")
		v.Columns = append(v.Columns, Column{names, strings.TrimSpace(about)})
	}
}

// namesIn are the words of an SQL text outside of its lines of comment: the names
// that stand in it, and some that don't matter.
func namesIn(text string) map[string]bool {
	names := map[string]bool{}
	for line := range strings.Lines(text) {
		if strings.HasPrefix(strings.TrimSpace(line), "--") {
			continue
		}
		for word := range strings.FieldsFuncSeq(line, func(c rune) bool { return c != '_' && !unicode.IsLetter(c) && !unicode.IsDigit(c) }) {
			names[word] = true
		}
	}
	return names
}

// viewsNamed are the views that texts of SQL name and those that these rest on, in
// their order.
func viewsNamed(texts ...string) (out []View) {
	names := map[string]bool{}
	for _, text := range texts {
		maps.Copy(names, namesIn(text))
	}
	for _, v := range slices.Backward(Views()) { // none rests on a later one
		if names[v.Name] {
			maps.Copy(names, v.names)
			out = append(out, v)
		}
	}
	slices.Reverse(out)
	return out
}

// viewsAsked are those that a person's SQL may mean: those it names, however the letters
// are written, and those that these rest on; all of them where it names none or asks for
// lists, which don't name what they list.
func viewsAsked(query string) []View {
	query = strings.ToLower(query)
	for name := range namesIn(query) {
		if name == "show" || listing.MatchString(name) {
			return Views()
		}
	}
	if named := viewsNamed(query); len(named) > 0 {
		return named
	}
	return Views()
}

// listing are the names under which the engine lists what a database holds.
var listing = regexp.MustCompile(`^(information_schema|(duckdb|pg|sqlite)_.*)$`)

// madeViews are the views that were made in a database: all its connections have
// them.
type madeViews struct {
	mu   sync.Mutex
	made map[string]bool
}

// add makes those that are not there yet.
func (m *madeViews) add(ctx context.Context, conn *sql.Conn, views []View) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	var script strings.Builder
	for _, v := range views {
		if !m.made[v.Name] {
			script.WriteString(v.statement())
		}
	}
	if script.Len() == 0 {
		return nil
	}
	if _, err := conn.ExecContext(ctx, script.String()); err != nil {
		return fmt.Errorf("making the views of the order book: %w", err)
	}
	if m.made == nil {
		m.made = map[string]bool{}
	}
	for _, v := range views {
		m.made[v.Name] = true
	}
	return nil
}

// statement makes a view, whether or not it is there.
func (v View) statement() string {
	return strings.Replace(v.text, "CREATE VIEW", "CREATE OR REPLACE VIEW", 1)
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
