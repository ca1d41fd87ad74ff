package load

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// Options say what to load and how.
type Options struct {
	Paths    []string // files, and folders of sheets
	Map      string   // mapping file of a shop's own layout; empty: none
	Settings string   // file of shop settings; empty: those in the book stay
	Rejects  string   // file that rows kept out are written to; empty: none
	// Shop are settings that hold before the load, by name, as another book has
	// them. Memory only.
	Shop    map[string]string
	Program string // name and version of the program, for the ledger
	Now     time.Time
	// Need are the sheets that the book must have after the load; nil means
	// those that sheets.Catalogue marks as needed.
	Need []string
	// WholeForms says that the sheets hold all numbers of their forms: those that
	// the book has beside them end.
	WholeForms bool
	// WholeExport says that the sheets hold all orders and all reports of fit
	// there are: others that the book has end.
	WholeExport bool
	// Unpack is how many bytes a workbook may unpack to; 0 means in proportion to
	// its size.
	Unpack int64
	// DryRun reads and reports, and changes nothing.
	DryRun bool
	// JudgeLater leaves the numbers of the forms that the load touches without
	// evidence until an audit; that the report says.
	JudgeLater bool
	// Progress, if set, is told what is being done and how far the load is,
	// from 0 to 1. It is called on the goroutine of the load.
	Progress func(doing string, done float64)
	// AtStep is that of bookfile.WriterOptions.
	AtStep func(step string)

	limits *limits // nil: usual
}

// limits are the sizes from which on a load takes care of the engine's memory.
type limits struct {
	// summedRows is how many measurements are summed up at a time: few enough that
	// what is kept of their forms' places fits in memory by far. Where three million
	// places went to disk under WriteMemory the engine crashed (DuckDB 1.4.1,
	// combining the partitions of an aggregate).
	summedRows int64
	// groupedKeys is up to how many rows the keys of a sheet, grouped, fit in
	// bookfile.WriteMemory.
	groupedKeys int64
	// stageInMemory is up to how many bytes of sheets the staged measurements stay
	// in memory.
	stageInMemory int64
	// oneThread is up to how much memory (see loader.memory) a load keeps to one thread:
	// what there is to do in small sheets takes less than sharing it out does.
	oneThread int64
}

var usual = limits{summedRows: 1_000_000, groupedKeys: 1_500_000, stageInMemory: 128 << 20, oneThread: smallSheets}

// A SheetCount says what became of the rows of one sheet of one file: rows
// read = taken + unchanged + kept out. Superseded counts the rows of the book
// that these rows ended; their history stays. A file that is in the book
// already is not read again: its rows are unchanged.
type SheetCount struct {
	Sheet      string   `json:"sheet"`
	File       string   `json:"file"`
	Read       int64    `json:"read"`
	Taken      int64    `json:"taken"`
	Unchanged  int64    `json:"unchanged"`
	Superseded int64    `json:"superseded"`
	KeptOut    int64    `json:"kept_out"`
	AlreadyIn  bool     `json:"already_in"`
	Unknown    []string `json:"unknown_columns,omitempty"`
}

// A Report says what a load did.
type Report struct {
	Book    string          `json:"book"`
	Load    int64           `json:"load"` // its number in the ledger; 0: nothing changed
	Sheets  []SheetCount    `json:"sheets"`
	KeptOut []sheets.Reject `json:"kept_out"`
	Ignored []string        `json:"ignored"` // files that are no sheets
	Rejects string          `json:"rejects,omitempty"`
	// Ended counts the orders and reports of fit that ended since a whole export
	// does not hold them.
	Ended int64 `json:"ended,omitempty"`
	// Unjudged counts the forms whose numbers an audit must still judge.
	Unjudged int64    `json:"unjudged,omitempty"`
	Notes    []string `json:"notes,omitempty"`
	Gist     *Gist    `json:"gist,omitempty"` // nil where nothing was read
	DryRun   bool     `json:"dry_run,omitempty"`
}

// Loaded reports whether any row of the sheets is in the book now.
func (r *Report) Loaded() bool {
	return slices.ContainsFunc(r.Sheets, func(s SheetCount) bool { return s.Taken+s.Unchanged > 0 })
}

// AllIn reports whether all of the sheets were in the book already.
func (r *Report) AllIn() bool {
	fresh := slices.ContainsFunc(r.Sheets, func(s SheetCount) bool { return !s.AlreadyIn })
	return r.Load == 0 && len(r.Sheets) > 0 && !fresh
}

// ErrNothing is wrapped by the error of a load that took no row at all.
var ErrNothing = errors.New("nothing was loaded")

// Sheets reads order sheets into the book, which is made when it is not there.
// It is all or nothing: the work is done on a copy that takes the book's place
// in one step at the end, so after an error, a kill or a cancelled ctx the book
// is as it was. Rows that can't be taken are kept out
// and reported; they are no error as long as some row was taken. The report
// is there even with an error, as far as the load came.
func Sheets(ctx context.Context, book string, opt Options) (*Report, error) {
	if opt.DryRun {
		defer leaveNothing(book)
	}
	w, err := bookfile.OpenWriter(ctx, book, bookfile.WriterOptions{Program: opt.Program, Now: opt.Now, AtStep: opt.AtStep})
	if err != nil {
		return &Report{Book: book}, err
	}
	defer w.Close()
	l := newLoader(w.Conn, w.Files.Work(), opt)
	l.report.Book, l.loadID, l.ledger = book, w.Load, w.Ledger
	l.report.DryRun, l.opt.JudgeLater = opt.DryRun, opt.JudgeLater || opt.DryRun
	files, err := l.run(ctx)
	if err == nil && opt.DryRun {
		return l.report, nil
	}
	if err == nil && files == nil {
		err = w.CatchUp(ctx)
	}
	if err != nil || files == nil {
		return l.report, err
	}
	opt.progress("writing the book", 0.9)
	if err := l.keepOriginals(w.Files); err != nil {
		return l.report, err
	}
	w.Step("kept")
	if err := w.Publish(ctx, files); err != nil {
		return l.report, err
	}
	l.report.Load = w.Load
	opt.progress("done", 1)
	return l.report, nil
}

// leaveNothing takes away what opening a book that is not there made: empty
// folders and the lock.
func leaveNothing(book string) {
	if _, err := os.Stat(book); !errors.Is(err, fs.ErrNotExist) {
		return
	}
	f := bookfile.FilesOf(book)
	os.Remove(f.Sheets())
	if left, err := os.ReadDir(f.Dir); err == nil && len(left) == 1 && left[0].Name() == filepath.Base(f.Lock()) {
		os.Remove(f.Lock())
		os.Remove(f.Dir)
	}
}

// InMemory loads sheets into a book in memory that ends with the returned
// database, by the same path as Sheets, except that the numbers are not judged
// (form_evidence stays empty). scratch is a folder for working copies.
func InMemory(ctx context.Context, scratch string, opt Options) (*sql.DB, *Report, error) {
	db, err := engine.Open(ctx, "", false, engine.OneThread) // until many rows come
	if err != nil {
		return nil, nil, err
	}
	report, err := loadInto(ctx, db, scratch, opt)
	if err != nil {
		return nil, report, errors.Join(err, db.Close())
	}
	return db, report, nil
}

func loadInto(ctx context.Context, db *sql.DB, scratch string, opt Options) (*Report, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	defer engine.EndTransaction(conn) // of a load that failed; after a commit there is none
	if err := bookfile.BringUp(ctx, conn); err != nil {
		return nil, err
	}
	for name, value := range opt.Shop {
		if _, err := conn.ExecContext(ctx, "INSERT INTO settings VALUES (?, ?)", name, value); err != nil {
			return nil, err
		}
	}
	if _, err := conn.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return nil, err
	}
	l := newLoader(conn, scratch, opt)
	l.loadID, l.opt.JudgeLater = 1, true
	files, err := l.run(ctx)
	if err != nil {
		return l.report, err
	}
	line := bookfile.LedgerLine{Load: 1, At: opt.Now, Program: opt.Program, Files: files}
	if line.Checksum, err = bookfile.Checksum(ctx, conn); err != nil {
		return l.report, err
	}
	l.report.Load = 1
	if err := bookfile.InsertLedger(ctx, conn, line); err != nil {
		return l.report, err
	}
	return l.report, l.exec(ctx, "COMMIT")
}

func (o Options) progress(doing string, done float64) {
	if o.Progress != nil {
		o.Progress(doing, done)
	}
}
