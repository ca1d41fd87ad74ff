package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/page"

	"golang.org/x/term"
)

// A progress tells how far long work is: a bar that redraws itself on a
// terminal; in a pipe one plain line a step, small steps at most one a second.
// It is safe for several goroutines.
// The zero progress is silent.
type progress struct {
	mu    sync.Mutex
	w     io.Writer
	bar   bool // redraw in place
	step  string
	drawn time.Time
	open  bool // a bar stands on the line
}

// show turns the progress on.
func (a *app) show() workshop.Progress {
	a.progress.w = a.stderr
	a.progress.bar = isTerminal(a.stderr)
	return a.progress.at
}

// at is done of total steps of a kind of work; total 0: not known.
func (p *progress) at(step string, done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.w == nil {
		return
	}
	since := time.Since(p.drawn)
	if !p.bar {
		if step != p.step && (total <= 0 || since > time.Second) {
			fmt.Fprintln(p.w, step)
			p.step, p.drawn = step, time.Now()
		}
		return
	}
	if step == p.step && done < total && since < 80*time.Millisecond {
		return
	}
	p.step, p.drawn, p.open = step, time.Now(), true
	fmt.Fprintf(p.w, "\r\x1b[K%s %s", drawBar(done, total), step)
}

// done clears the bar away.
func (p *progress) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.open = false
	}
	p.step = ""
}

const barWidth = 24

func drawBar(done, total int) string {
	if total <= 0 {
		return "[" + strings.Repeat("·", barWidth) + "]     "
	}
	n := min(barWidth, max(0, done*barWidth/total))
	return fmt.Sprintf("[%s%s] %3d %%", strings.Repeat("=", n), strings.Repeat(" ", barWidth-n), min(100, done*100/total))
}

func isTerminal(w any) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// width is how wide a line may be: the terminal's width, else the usual one.
func width(w any) int {
	if f, ok := w.(*os.File); ok {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil {
			return n
		}
	}
	return page.UsualWidth
}
