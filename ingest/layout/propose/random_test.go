package propose

import (
	"context"
	"encoding/csv"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/grid/testdata/workbooks"
	"lastroom/ingest/layout/testdata/readback"
)

var (
	rounds    = flag.Int("rounds", breadth.Few(6, 25), "how many random layouts TestRandomLayouts tries; 10000 for the long check")
	firstSeed = flag.Int("first-seed", 0, "the seed of the first of them")
)

// A random book in a random layout is read back through the mapping that is
// proposed for it: what is there is the same, and what can't be told is asked
// about and left out, never read otherwise. The books are invented.
func TestRandomLayouts(t *testing.T) {
	all, lost := 0, 0
	defer func() { t.Logf("%d numbers, %d of them left out with a question", all, lost) }()
	for seed := *firstSeed; seed < *firstSeed+*rounds; seed++ {
		b := newRandomBook(uint64(seed))
		dir := t.TempDir()
		var paths []string
		for name, text := range b.files {
			path := filepath.Join(dir, name)
			require.NoError(t, os.WriteFile(path, text, 0o644))
			paths = append(paths, path)
		}
		if len(b.tabs) > 0 {
			paths = []string{filepath.Join(dir, "Workshop.xlsx")}
			workbooks.XLSX(t, paths[0], b.tabs...)
		}
		ctx := context.Background()
		files, _, err := Gather(ctx, paths, t.TempDir())
		require.NoError(t, err, "seed %d", seed)
		p, err := Propose(ctx, files, t.TempDir())
		require.NoError(t, err, "seed %d", seed)
		got, _ := readback.Parts(t, p.Parts)
		var wrong []string
		for sheet, rows := range got {
			for key, value := range rows {
				is, ok := b.truth[sheet][key]
				switch {
				case !ok && sheet != "forms":
					wrong = append(wrong, fmt.Sprintf("%s %s is invented (%s)", sheet, key, value))
				case sheet == "measurements" && !readback.SameNumber(value, is):
					wrong = append(wrong, fmt.Sprintf("%s %s: read %s, is %s", sheet, key, value, is))
				case sheet == "orders" && !sameWhereSaid(value, is):
					wrong = append(wrong, fmt.Sprintf("%s %s: read %s, is %s", sheet, key, value, is))
				}
			}
		}
		missing := 0
		for key := range b.truth["measurements"] {
			if _, ok := got["measurements"][key]; !ok {
				missing++
			}
		}
		all, lost = all+len(b.truth["measurements"]), lost+missing
		if len(wrong) > 0 || missing > 0 && len(p.Questions) == 0 {
			for name, text := range b.files {
				t.Logf("%s\n%.1500s", name, text)
			}
			t.Fatalf("seed %d (%s): %v; %d numbers missing\n%s", seed, b.what, readback.Some(wrong), missing, p.Text)
		}
	}
	require.Less(t, float64(lost), 0.1*float64(all), "numbers left out")
}

// sameWhereSaid compares the columns of which both say something.
func sameWhereSaid(a, b string) bool {
	x, y := strings.Split(a, "|"), strings.Split(b, "|")
	for i := range x {
		if x[i] != "" && y[i] != "" && !readback.SameNumber(x[i], y[i]) {
			return false
		}
	}
	return true
}

type randomBook struct {
	files map[string][]byte
	tabs  []workbooks.Tab // the same as a workbook, for some books: then it alone is looked at
	truth map[string]readback.Said
	what  string
}

// newRandomBook invents a few orders and writes them in a layout drawn at
// random: wide or tall, tucked set beside or in a file of its own, repeated
// headers or sides in them, order of days, decimal sign, separator, line ends,
// encoding, titles above, totals below.
func newRandomBook(seed uint64) randomBook {
	r := rand.New(rand.NewPCG(seed, 1))
	pick := func(words ...string) string { return words[r.IntN(len(words))] }
	unit, sep := pick("in", "cm"), pick(",", ";", "\t")
	comma := unit == "cm" && sep != "," && r.IntN(2) == 0
	days := pick("2006-01-02", "1/2/2006", "2.1.2006", "02/01/2006", "2-Jan-06", "Jan 2, 2006")
	wide, repeated := r.IntN(3) > 0, r.IntN(3) == 0
	b := randomBook{files: map[string][]byte{}, truth: map[string]readback.Said{"orders": {}, "measurements": {}},
		what: fmt.Sprintf("unit %s, separator %q, comma %v, days %s, wide %v, repeated %v", unit, sep, comma, days, wide, repeated)}
	perUnit := map[string]float64{"in": 25.4, "cm": 10}[unit]
	number := func(mm float64) (text string, read float64) {
		if unit == "in" {
			eighths := int(mm/25.4*8 + 0.5)
			whole, n := eighths/8, eighths%8
			text = strconv.Itoa(whole)
			switch {
			case n > 0 && r.IntN(2) == 0:
				text = fmt.Sprintf("%d %d/8", whole, n)
			case n > 0:
				text = strconv.FormatFloat(float64(eighths)/8, 'f', -1, 64)
			}
			return text, float64(eighths) / 8 * 25.4
		}
		tenths := int(mm + 0.5)
		text = fmt.Sprintf("%d.%d", tenths/10, tenths%10)
		if comma {
			text = strings.Replace(text, ".", ",", 1)
		}
		return text, float64(tenths)
	}
	heights := []float64{7, 9, 11}
	if unit == "cm" {
		heights = []float64{18, 23, 28}
	}
	points := []string{pick("Ball", "Joint"), "Instep", "Heel", "Ankle"}
	canon := []string{"ball", "instep", "heel", "ankle"}
	middle := []float64{240, 250, 335, 225}
	header := []string{pick("Order no", "Order #", "Auftrag"), "Customer", pick("Date in", "In", "Eingang"), pick("Shipped", "Out", "Versand"), pick("Boot height", "Ht") + " (" + unit + ")"}
	lead := len(header)
	for _, side := range []string{"L", "R"} {
		for _, p := range points {
			header = append(header, sided(p, side, repeated))
		}
		for _, h := range heights {
			header = append(header, sided(fmt.Sprintf("%.0f %s", h, unit), side, repeated))
		}
	}
	rows, tall, tucked := [][]string{}, [][]string{{header[0], "Foot", "Where", "Reading"}}, [][]string{{header[0], "Height", "L", "R"}}
	for i := range 12 + r.IntN(20) {
		id := strconv.Itoa(100 + i)
		in := time.Date(2023, time.Month(1+r.IntN(12)), 1+r.IntN(28), 0, 0, 0, 0, time.UTC)
		out := in.AddDate(0, 0, 20+r.IntN(40))
		shaft := heights[2]
		row := []string{id, fmt.Sprintf("C%d", r.IntN(30)), in.Format(days), out.Format(days), fmt.Sprintf("%.0f", shaft)}
		order := make([]string, len(readback.OrderColumns))
		order[0], order[1], order[3] = row[1], in.Format("2006-01-02"), out.Format("2006-01-02")
		order[4] = strconv.FormatFloat(shaft*perUnit, 'f', -1, 64)
		b.truth["orders"][id] = strings.Join(order, "|")
		for s, side := range []string{"left", "right"} {
			say := func(place, label string, mm float64) {
				text, read := number(mm * (0.93 + 0.14*r.Float64()))
				if r.IntN(25) == 0 {
					row = append(row, pick("", "?", "-"))
					return
				}
				row = append(row, text)
				tall = append(tall, []string{id, []string{"L", "R"}[s], label, text})
				b.truth["measurements"][id+"|"+side+"|bare|"+place] = strconv.FormatFloat(read, 'f', 4, 64)
			}
			for k, p := range points {
				say(canon[k]+"|", p, middle[k])
			}
			for k, h := range heights {
				say("leg|"+strconv.FormatFloat(float64(int(h*perUnit*100+0.5))/100, 'f', -1, 64), fmt.Sprintf("%.0f %s", h, unit), 260+30*float64(k))
			}
		}
		rows = append(rows, row)
		if r.IntN(3) == 0 {
			for k, h := range heights {
				line := []string{id, fmt.Sprintf("%.0f %s", h, unit)}
				for _, side := range []string{"left", "right"} {
					text, read := number((270 + 30*float64(k)) * (0.95 + 0.1*r.Float64()))
					line = append(line, text)
					b.truth["measurements"][id+"|"+side+"|tucked|leg|"+strconv.FormatFloat(float64(int(h*perUnit*100+0.5))/100, 'f', -1, 64)] = strconv.FormatFloat(read, 'f', 4, 64)
				}
				tucked = append(tucked, line)
			}
		}
	}
	table := [][]string{}
	if r.IntN(3) == 0 {
		table = append(table, []string{"Ledger of 2023"}, nil)
	}
	if !wide {
		header = header[:lead]
		for i := range rows {
			rows[i] = rows[i][:lead]
		}
		b.files["tape.csv"] = write(r, tall, sep)
	}
	table = append(append(table, header), rows...)
	if r.IntN(3) == 0 {
		table = append(table, append([]string{"Total", strconv.Itoa(len(rows))}, make([]string, len(header)-2)...))
	}
	b.files["ledger.csv"] = write(r, table, sep)
	if len(tucked) > 1 {
		b.files["over trousers.csv"] = write(r, tucked, sep)
	}
	if r.IntN(3) == 0 { // the same in one workbook, beside quotes that never were orders
		quotes := append([][]string{header}, slices.Clone(rows[0]))
		quotes[1][0] = "999"
		b.tabs = []workbooks.Tab{{Name: "Ledger", Rows: cells(r, table)}, {Name: "quotes", Hidden: true, Rows: cells(r, quotes)}}
		if !wide {
			b.tabs = append(b.tabs, workbooks.Tab{Name: "Tape", Rows: cells(r, tall)})
		}
		if len(tucked) > 1 {
			b.tabs = append(b.tabs, workbooks.Tab{Name: "Tape (over trousers)", Rows: cells(r, tucked)})
		}
		b.what += ", a workbook"
	}
	return b
}

func sided(name, side string, repeated bool) string {
	if repeated {
		return name
	}
	return name + " " + side
}

// cells are a table of a workbook, its numbers as numbers or as they were typed.
func cells(r *rand.Rand, table [][]string) (out [][]any) {
	typed := r.IntN(2) == 0
	for _, row := range table {
		var line []any
		for _, text := range row {
			if x, err := strconv.ParseFloat(text, 64); err == nil && !typed {
				line = append(line, x)
			} else {
				line = append(line, text)
			}
		}
		out = append(out, line)
	}
	return out
}

// write writes a table with line ends and letters drawn at random.
func write(r *rand.Rand, rows [][]string, sep string) []byte {
	var out strings.Builder
	for _, row := range rows {
		var line strings.Builder
		w := csv.NewWriter(&line)
		w.Comma = rune(sep[0])
		if len(row) > 0 {
			_ = w.Write(row)
			w.Flush()
		}
		out.WriteString(strings.TrimRight(line.String(), "\n"))
		out.WriteString([]string{"\n", "\r\n"}[r.IntN(2)])
	}
	text := []byte(out.String())
	switch r.IntN(4) {
	case 0:
		text, _ = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().Bytes(text)
	case 1:
		text, _ = charmap.Windows1252.NewEncoder().Bytes(text)
	case 2:
		text = append([]byte("\ufeff"), text...)
	}
	return text
}
