package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/notebooks"
)

// What an input under 1 MB may cost: seconds of processor and megabytes of memory.
const (
	mostSeconds = 5
	mostMemory  = 300
)

// limited runs the program under limits of the system: the kernel ends it after
// mostSeconds of processor time, and gives it no more writable memory than four
// times mostMemory (it takes addresses in large pieces, most of which it never
// touches); what it touched is told afterwards.
func limited(t *testing.T, args ...string) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 3*time.Minute) // processor time counts; this only ends a wait
	defer stop()
	c := exec.CommandContext(ctx, "/bin/sh", append([]string{"-c",
		fmt.Sprintf(`ulimit -t %d; ulimit -d %d; exec "$@"`, mostSeconds, 4*mostMemory<<10), "sh", "lastroom"}, args...)...)
	var said bytes.Buffer
	c.Stdout, c.Stderr = &said, &said
	require.NoError(t, c.Start())
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	// Looked at while it runs: what the system tells afterwards counts the memory of
	// this test too, which the program was started from.
	peak, err := 0, error(nil)
	for running := true; running; {
		peak = max(peak, megabytesOf(c.Process.Pid))
		select {
		case err = <-ended:
			running = false
		case <-time.After(2 * time.Millisecond):
		}
	}
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		require.NoError(t, err)
	}
	seconds := (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
	words := strings.Join(args, " ")
	if breadth.Campaign() || t.Failed() {
		t.Logf("%5.2f s %4d MB status %d: %s", seconds, peak, c.ProcessState.ExitCode(), words)
	}
	text := said.String()
	text = text[max(0, len(text)-400):]
	assert.Less(t, seconds, float64(mostSeconds), "processor seconds: %s\n%s", words, text)
	assert.Less(t, peak, mostMemory, "megabytes: %s\n%s", words, text)
	// Whatever it is, it is told: the program neither panics nor is ended.
	assert.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld, workshop.ExitBadInput}, c.ProcessState.ExitCode(), "status: %s\n%s", words, text)
	assert.NotContains(t, said.String(), "goroutine ", words)
	assert.Less(t, said.Len(), 1<<20, "what it said: %s", words)
}

// alwaysTried are those that cost most before somebody looked, the first four of them, one of
// a kind, where a run is not wide; all others are tried with -campaign.
var alwaysTried = []string{"yaml: brackets", "notebook: a table without ends", "sheet: workbook of many tabs of many rows", "manifest: deep",
	"yaml: flow list", "notebook: front matter, deep", "notebook: headings",
	"sheet: workbook of short shared texts", "sheet: workbook of a long number format", "sheet: workbook of wide rows",
	"sheet: text of quotes"}

// No input under 1 MB takes over 5 s or 300 MB anywhere: every command that reads
// a file is given hostile ones.
func TestSmallFilesCostLittle(t *testing.T) {
	t.Parallel()
	dir, err := demoDir()
	require.NoError(t, err)
	book := filepath.Join(ownDemo(t), "shop.duckdb")
	sheets := filepath.Join(dir, "demo", "sheets")
	parquet := filepath.Join(t.TempDir(), "export")
	say(t, "book", "export", "--book", book, parquet)
	// How a file of a kind is given to the program, FILE for its name.
	ways := map[string][]string{
		"yaml": {"rules --book BOOK --rules FILE", "load --book NEW --map FILE SHEETS", "load --book NEW --settings FILE SHEETS", "check --settings FILE SHEETS/orders.csv",
			"check --language FILE --letter DIR SHEETS/orders.csv", "sheet --shaft-height 14in --language FILE --out DIR/s.html", "teach --language FILE --out DIR/t.html", "check --rules FILE SHEETS/orders.csv"},
		"sheet":    {"load --book NEW FILE", "layout FILE", "load --book NEW --dry-run FILE", "check FILE", "layout --out DIR/map.yaml FILE"},
		"answers":  {"practice --answers FILE"},
		"notebook": {"run --book BOOK FILE"},
		"manifest": {"book restore --book NEW FOLDER"},
		"tokens":   {"serve --book NEW --addr 127.0.0.1:0 --tokens FILE --cert none --key none"},
	}
	always := alwaysTried
	if !breadth.Wide() {
		always = always[:4]
	}
	for _, in := range slices.SortedFunc(maps.Keys(hostileFiles()), strings.Compare) {
		f := hostileFiles()[in]
		if !breadth.Campaign() && !slices.Contains(always, in) {
			continue
		}
		t.Run(in, func(t *testing.T) {
			for i, way := range ways[f.kind] {
				if i > 0 && !breadth.Campaign() {
					break
				}
				text := f.text(parquet)
				require.Less(t, len(text), 1_000_000)
				dir := t.TempDir()
				file := filepath.Join(dir, f.name)
				require.NoError(t, os.WriteFile(file, text, 0o600))
				words := strings.NewReplacer("BOOK", book, "NEW", filepath.Join(dir, "new.duckdb"), "FILE", file, "FOLDER", dir, "SHEETS", sheets, "DIR", dir)
				var args []string
				for _, word := range strings.Fields(way) {
					args = append(args, words.Replace(word))
				}
				limited(t, args...)
			}
		})
	}
}

// A hostileFile is an input under 1 MB that would cost much if nobody looked.
type hostileFile struct {
	kind, name string
	text       func(parquet string) []byte
}

func repeated(text string, n int) func() []byte {
	return func() []byte { return bytes.Repeat([]byte(text), n) }
}

func joined(parts ...func() []byte) func() []byte {
	return func() []byte {
		var b []byte
		for _, p := range parts {
			b = append(b, p()...)
		}
		return b
	}
}

func plain(text string) func() []byte { return repeated(text, 1) }

// numbered is a text n times with %d for the number.
func numbered(format string, n int) func() []byte {
	return func() []byte {
		var b bytes.Buffer
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.Bytes()
	}
}

// laughs are aliases of aliases.
func laughs() []byte {
	var b bytes.Buffer
	b.WriteString("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 12; i++ {
		fmt.Fprintf(&b, "a%d: &a%d [%s*a%d]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9), i-1)
	}
	return b.Bytes()
}

func steps(mark string) func() []byte {
	return func() []byte {
		var b bytes.Buffer
		for i := range 1000 {
			b.WriteString(strings.Repeat(" ", i) + mark + "\n")
		}
		return b.Bytes()
	}
}

// hostileFiles are all of them by kind and what they are, put together when first asked for:
// each start of the program in a test is a start of this one.
var hostileFiles = sync.OnceValue(func() map[string]hostileFile {
	files := map[string]hostileFile{}
	hostile := func(kind, name, what string, text func() []byte) {
		files[kind+": "+what] = hostileFile{kind, name, func(string) []byte { return text() }}
	}
	for what, text := range map[string]func() []byte{
		"brackets":         repeated("[", 250_000),
		"braces":           repeated("{a: ", 60_000),
		"dashes on a line": repeated("- ", 120_000),
		"question marks":   repeated("? ", 120_000),
		"steps of tables":  steps("a:"),
		"steps of lists":   steps("-"),
		"laughs":           laughs,
		"many names":       numbered("k%d: 1\n", 20_000),
		"many items":       joined(plain("a:\n"), repeated("- b\n", 60_000)),
		"flow list":        joined(plain("a: ["), repeated("x,", 120_000), plain("]\n")),
		"flow pairs":       joined(plain("a: ["), repeated("{b: c},", 33_000), plain("]\n")),
		"one long text":    joined(plain("a: "), repeated("x", 250_000)),
		"a long block":     joined(plain("a: |\n"), repeated("  x\n", 60_000)),
		"open quote":       joined(plain(`a: "`), repeated("\\u0041", 40_000)),
		"many documents":   repeated("---\na: b\n", 30_000),
		"anchors":          numbered("a%d: &x%[1]d y\n", 15_000),
		"tags":             joined(plain("a:\n"), repeated("- !!str x\n", 25_000)),
		"merge keys":       joined(plain("a: &a {b: c}\n"), numbered("k%d: {<<: *a}\n", 12_000)),
		"comments":         repeated("# x\n", 60_000),
		"comments between": joined(plain("a:\n"), repeated("- b # c\n", 30_000)),
		"colons":           repeated(":", 250_000),
		"tabs":             repeated("\t", 250_000),
		"quotes":           repeated("'", 250_000),
		"percent":          repeated("%YAML 1.2\n", 25_000),
		"too long":         repeated("a", 999_000),
		"rules":            joined(numbered("- id: r%d\n  title: x\n  when: faults > 0\n", 6_000)),
		"a deep condition": joined(plain("- id: r\n  title: x\n  when: "), repeated("(", 100_000), plain("true"), repeated(")", 100_000)),
		"a long condition": joined(plain("- id: r\n  title: x\n  when: true"), repeated(" or faults > 1", 17_000)),
		"a slow condition": plain("- id: r\n  title: x\n  when: regexp_matches(repeat('a', 100000000), '(a*)*b')\n"),
		"layout of tables": joined(plain("sheets:\n"), numbered("- {table: orders, tab: t%d, columns: {order_id: a}}\n", 4_500)),
		"a layout's words": joined(plain("layout: 1\ntables:\n- sheet: orders\n  columns:\n    channel:\n      from: channel\n      words: {"), numbered("w%d: home, ", 15_000), plain("}\n")),
	} {
		hostile("yaml", "in.yaml", what, text)
	}
	for what, text := range map[string]func() []byte{
		"100,000 columns":  joined(plain("order_id"), repeated(",c", 100_000), plain("\n")),
		"900 wide rows":    joined(plain("order_id"), numbered(",c%d", 900), plain("\n"), repeated(strings.Repeat(",", 900)+"\n", 900)),
		"one long line":    joined(plain("order_id,customer_id\n"), repeated("x", 950_000)),
		"quotes":           joined(plain("order_id,customer_id\n"), repeated(`"`, 950_000)),
		"quoted newlines":  joined(plain("order_id,customer_id\n\""), repeated("\n", 950_000)),
		"commas":           joined(plain("order_id,customer_id\n"), repeated(",", 950_000)),
		"empty rows":       joined(plain("order_id,customer_id\n"), repeated(",\n", 450_000)),
		"short rows":       joined(plain("order_id,customer_id\n"), numbered("%d,\n", 120_000)),
		"rows without key": joined(plain("order_id,customer_id\n"), repeated(",1\n", 320_000)),
		"line ends":        joined(plain("order_id,customer_id\n"), repeated("\r", 950_000)),
		"NULs":             joined(plain("order_id,customer_id\n"), repeated("\x00", 950_000)),
		"UTF-16":           joined(plain("\xff\xfe"), repeated("o\x00,\x00", 200_000)),
		"UTF-16 rows":      joined(plain("\xff\xfeo\x00r\x00d\x00e\x00r\x00_\x00i\x00d\x00\n\x00"), repeated("1\x00\n\x00", 200_000)),
		"bad letters":      joined(plain("order_id,customer_id\n"), repeated("\xff,\xfe\n", 200_000)),
		"same order":       joined(plain("order_id,customer_id\n"), repeated("A,B\n", 200_000)),
		"bad days":         joined(plain("order_id,received_on\n"), numbered("%d,2025-99-99\n", 45_000)),
		"different texts":  joined(plain("order_id,closure\n"), numbered("%d,c%[1]d\n", 60_000)),
		"separators":       repeated(";", 950_000),
		"marks at the top": repeated("\xef\xbb\xbf", 300_000),
		"lines at the top": joined(repeated("\n", 300_000), plain("order_id\n1\n")),
	} {
		hostile("sheet", "orders.csv", "text of "+what, text)
		hostile("answers", "answers.csv", what, text)
	}
	measures := "form_id,side,clothing,point,height,height_unit,value,unit\n"
	hostile("sheet", "measurements.csv", "numbers of one form", joined(plain(measures), numbered("A,left,bare,leg,%d.5,mm,300,mm\n", 28_000)))
	hostile("sheet", "measurements.csv", "fractions", joined(plain(measures), plain("A,left,bare,ball,,,"), repeated("1/", 450_000), plain(",in\n")))
	hostile("sheet", "measurements.csv", "long digits", joined(plain(measures), plain("A,left,bare,ball,,,"), repeated("9", 900_000), plain(",in\n")))
	hostile("sheet", "measurements.csv", "different lengths", joined(plain(measures), numbered("F%d,left,bare,ball,,,%[1]d.%[1]d,mm\n", 22_000)))
	for what, b := range workbookBombs {
		hostile("sheet", "orders."+b.ending, "workbook of "+what, b.bytes)
	}
	for i := range 12 {
		files[fmt.Sprintf("sheet: damaged Parquet %d", i)] = hostileFile{"sheet", "orders.parquet", func(dir string) []byte { return flippedParquet(dir, uint64(i)) }}
	}
	for what, text := range map[string]func() []byte{
		"footer of 4 GB":   plain("PAR1" + strings.Repeat("x", 100) + "\xff\xff\xff\xffPAR1"),
		"lists in lists":   joined(plain("PAR1"), repeated("\x19\xfc", 100_000), plain("\x40\x0d\x03\x00PAR1")),
		"structs in depth": joined(plain("PAR1"), repeated("\x1c", 200_000), plain("\x40\x0d\x03\x00PAR1")),
		"a huge list":      joined(plain("PAR1\x15\x02\x19\xfc\xff\xff\xff\xff\x07"), repeated("\x00", 100), plain("\x6d\x00\x00\x00PAR1")),
	} {
		hostile("sheet", "orders.parquet", "Parquet with "+what, text)
	}
	head := plain("---\ntitle: x\nfor: y\n---\n\n")
	sql := func(q string) func() []byte { return joined(head, plain("```sql name=q\n"+q+"\n```\n")) }
	for what, text := range map[string]func() []byte{
		"brackets":             joined(head, repeated("[", 900_000)),
		"images":               joined(head, repeated("![", 450_000)),
		"links":                joined(head, repeated("[a](b", 180_000)),
		"quotes in quotes":     joined(head, repeated(">", 900_000)),
		"lists in lists":       joined(head, repeated("- ", 450_000)),
		"numbers in numbers":   joined(head, repeated("1. ", 300_000)),
		"stars":                joined(head, repeated("*", 900_000)),
		"stars and letters":    joined(head, repeated("*a_ ", 220_000)),
		"nested stars":         joined(head, repeated("**x *y ", 128_000)),
		"backticks":            joined(head, numbered("`%d", 120_000)),
		"backticks, growing":   joined(head, func() []byte { return growing("`", 1300) }),
		"fences":               joined(head, repeated("```\n", 220_000)),
		"references":           joined(head, numbered("[r%d]: /x\n", 60_000), numbered("[r%d] ", 40_000)),
		"one reference":        joined(head, plain("[r]: /"), repeated("x", 400_000), repeated("[r]", 100_000)),
		"a wide table":         joined(head, repeated("|a", 100_000), plain("\n"), repeated("|-", 100_000), plain("\n"), repeated("|a", 100_000)),
		"a table without ends": joined(head, repeated("|a", 100_000), plain("\n"), repeated("|-", 100_000), plain("\n"), repeated("a\n", 100_000)),
		"raw HTML":             joined(head, repeated("<a ", 300_000)),
		"raw HTML, nested":     joined(head, repeated("<b>", 300_000)),
		"HTML comments":        joined(head, repeated("<!-", 300_000)),
		"entities":             joined(head, repeated("&#x1F600;", 100_000)),
		"autolinks":            joined(head, repeated("<http://a", 100_000)),
		"headings":             joined(head, repeated("# a\n\n", 180_000)),
		"escapes":              joined(head, repeated("\\", 900_000)),
		"values":               joined(head, repeated("[x](value:a.b) ", 60_000)),
		"underlined":           joined(head, repeated("a\n=\n", 200_000)),
		"many cells":           joined(head, numbered("```sql name=c%d\nselect 1\n```\n\n", 25_000)),
		"many parameters":      joined(plain("---\ntitle: x\nfor: y\nparameters:\n"), numbered("  - {name: p%d, type: text, default: x}\n", 5_000), plain("---\n\nx\n")),
		"front matter, deep":   joined(plain("---\ntitle: "), repeated("[", 240_000), plain("\n---\n\nx\n")),
		"front matter, open":   joined(plain("---\n"), repeated("a: b\n", 180_000)),
		"keys of a cell":       joined(head, plain("```sql name=q"), numbered(" k%d=v", 80_000), plain("\nselect 1\n```\n")),
		"SQL: many rows":       sql("select * from range(100000000000)"),
		"SQL: a product":       sql("select count(*) from range(1000000) a, range(1000000) b where a.range * b.range = 7"),
		"SQL: a long text":     sql("select repeat('x', 4000000000)"),
		"SQL: long texts":      sql("select string_agg(repeat('x', 1000000), ',') from range(1000000)"),
		"SQL: a list":          sql("select list(range) from range(1000000000)"),
		"SQL: sorting":         sql("select * from range(1000000000) order by random()"),
		"SQL: recursion":       sql("with recursive r as (select 1 as i union all select i + 1 from r) select max(i) from r"),
		"SQL: pattern":         sql("select regexp_matches(repeat('a', 30000000), '(a|aa)+$')"),
		"SQL: parentheses":     sql("select " + strings.Repeat("(", 200_000) + "1" + strings.Repeat(")", 200_000)),
		"SQL: long sum":        sql("select 1" + strings.Repeat("+1", 200_000)),
		"SQL: many unions":     sql("select 1" + strings.Repeat(" union all select 1", 20_000)),
		"SQL: a wide row":      sql("select 1" + strings.Repeat(",1", 100_000)),
		"SQL: statements":      sql(strings.Repeat("select 1;", 50_000)),
		"SQL: open quote":      sql("select '" + strings.Repeat("x", 500_000)),
		"SQL: many columns":    sql("select " + strings.Repeat("*,", 20_000) + "1 from cohort"),
		"SQL: distinct":        sql("select count(distinct range) from range(1000000000)"),
		"SQL: windows":         sql("select sum(range) over (order by range) from range(100000000)"),
		"SQL: unnest":          sql("select unnest(range(1000000000))"),
	} {
		hostile("notebook", "hostile.md", what, func() []byte {
			b := text()
			return b[:min(len(b), notebooks.MaxSource-10)] // a longer one is not read at all
		})
	}
	hostile("notebook", "hostile.md", "a longer one", joined(head, repeated("x", 950_000)))
	for what, text := range map[string]func() []byte{
		"deep":       repeated("[", 950_000),
		"deep names": repeated(`{"a":`, 180_000),
		"many files": joined(plain(`{"format":1,"kind":"backup","files":[`), numbered(`{"path":"files/%d","bytes":1,"sha256":"x"},`, 18_000), plain(`{"path":"x"}]}`)),
		"long path":  joined(plain(`{"format":1,"kind":"backup","files":[{"path":"`), repeated("a/", 400_000), plain(`"}]}`)),
		"large":      plain(`{"format":1,"kind":"backup","files":[{"path":"orders.parquet","bytes":9223372036854775807,"rows":9223372036854775807,"sha256":"x"}]}`),
		"numbers":    joined(plain(`{"format":1,"kind":"backup","loads":`), repeated("9", 900_000), plain(`}`)),
		"text":       joined(plain(`"`), repeated("\\u0000", 150_000), plain(`"`)),
	} {
		hostile("manifest", "manifest.json", what, text)
	}
	hostile("tokens", "tokens", "many", numbered("name%d reader aaaaaaaaaaaaaaaaaaaa\n", 20_000))
	hostile("tokens", "tokens", "one line", repeated("a ", 450_000))
	return files
})

// growing are runs of a mark, each longer by one.
func growing(mark string, n int) []byte {
	var b bytes.Buffer
	for i := range n {
		b.WriteString(strings.Repeat(mark, i+1) + " ")
	}
	return b.Bytes()
}

// flippedParquet is a sound file of the demo's orders with some bytes changed.
func flippedParquet(dir string, seed uint64) []byte {
	b, err := os.ReadFile(filepath.Join(dir, "orders", "year=2025", "data_0.parquet"))
	if err != nil {
		panic(err)
	}
	b = bytes.Clone(b)
	random := rand.New(rand.NewPCG(seed, 7))
	from := 4
	if seed%2 == 0 { // in the footer
		from = max(4, len(b)-2000)
	}
	for range 1 + seed {
		b[from+random.IntN(len(b)-from-8)] ^= byte(1 + random.IntN(255))
	}
	return b
}

// watched is a service in a process of its own: what it has used of the processor,
// and the most memory since it was asked to forget that.
type watched struct {
	t    *testing.T
	base string
	pid  int
}

func (w watched) seconds() float64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", w.pid))
	require.NoError(w.t, err)
	fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	var all float64
	for _, at := range []int{11, 12, 13, 14} { // utime, stime, and those of children
		var n float64
		_, err := fmt.Sscan(fields[at], &n)
		require.NoError(w.t, err)
		all += n / 100
	}
	return all
}

// megabytesOf is the most memory that a process had in use so far, 0 where there is
// no such process any more.
func megabytesOf(pid int) int { return statusOf(pid, "VmHWM:") }

// statusOf is a figure of a process in megabytes (proc(5)).
func statusOf(pid int, name string) int {
	text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	_, rest, _ := strings.Cut(string(text), name)
	var kb int
	_, _ = fmt.Sscan(rest, &kb)
	return kb >> 10
}

// peaks are what was most in use at a time: by the service, by a process of its own
// that it started, and by all of them beyond what the service had before.
type peaks struct{ service, child, taken int }

// watch looks at the memory of the service and its children until stop is closed.
func (w watched) watch(stop <-chan struct{}) (p peaks) {
	rest := statusOf(w.pid, "VmRSS:")
	for {
		all := statusOf(w.pid, "VmRSS:")
		tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", w.pid))
		for _, task := range tasks {
			children, _ := os.ReadFile(task)
			for _, child := range strings.Fields(string(children)) {
				pid, err := strconv.Atoi(child)
				require.NoError(w.t, err)
				all += statusOf(pid, "VmRSS:")
				p.child = max(p.child, megabytesOf(pid))
			}
		}
		p.taken = max(p.taken, all-rest)
		select {
		case <-stop:
			p.service = megabytesOf(w.pid)
			return p
		case <-time.After(2 * time.Millisecond):
		}
	}
}

// ask sends a request and holds what it cost to the limits: of the processor, of the
// memory of each process, and of what all of them took. Each is a test of its own,
// so that one can be asked for by its name.
func (w watched) ask(what, path, typ string, body []byte, change func(*http.Request)) {
	w.t.Run(what, func(t *testing.T) { w.asked(t, what, path, typ, body, change) })
}

func (w watched) asked(t *testing.T, what, path, typ string, body []byte, change func(*http.Request)) {
	w.t = t // what is told goes to the request's own test
	// What was touched before is not this request's; 5 sets VmHWM back (proc(5)).
	require.NoError(w.t, os.WriteFile(fmt.Sprintf("/proc/%d/clear_refs", w.pid), []byte("5"), 0o200))
	before := w.seconds()
	stop, used := make(chan struct{}), make(chan peaks, 1)
	go func() { used <- w.watch(stop) }()
	method := http.MethodPost
	if body == nil {
		method = http.MethodGet
	}
	req, err := http.NewRequestWithContext(w.t.Context(), method, w.base+path, bytes.NewReader(body))
	require.NoError(w.t, err)
	if typ != "" {
		req.Header.Set("Content-Type", typ)
	}
	if change != nil {
		change(req)
	}
	client := http.Client{Timeout: 3 * time.Minute}
	res, err := client.Do(req)
	if !assert.NoError(w.t, err, what) {
		close(stop)
		return
	}
	res.Body.Close()
	for strings.HasPrefix(res.Request.URL.Path, "/job/") { // until the work has ended
		again, err := client.Get(w.base + res.Request.URL.Path + "/state")
		require.NoError(w.t, err, what)
		var text bytes.Buffer
		_, err = text.ReadFrom(again.Body)
		require.NoError(w.t, err)
		again.Body.Close()
		if !strings.Contains(text.String(), `"ended":false`) {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	seconds := w.seconds() - before
	close(stop)
	memory := <-used
	if breadth.Campaign() {
		w.t.Logf("%5.2f s %4d MB, a child %4d MB, taken %4d MB, status %d: %s", seconds, memory.service, memory.child, memory.taken, res.StatusCode, what)
	}
	limit := float64(mostSeconds)
	if !breadth.Campaign() { // tests that run at the same time share the processors' caches and units
		limit *= 2
	}
	assert.Less(w.t, seconds, limit, "processor seconds: %s", what)
	assert.NotZero(w.t, memory.service)
	assert.Less(w.t, memory.service, mostMemory, "megabytes of the service: %s", what)
	assert.Less(w.t, memory.child, mostMemory, "megabytes of a child: %s", what)
	assert.Less(w.t, memory.taken, mostMemory, "megabytes taken: %s", what)
	assert.NotEqual(w.t, http.StatusInternalServerError, res.StatusCode, what)
}
