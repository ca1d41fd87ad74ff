package translation

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"

	nethtml "golang.org/x/net/html"

	"lastroom/reports/figure/svg"
)

// A drawing is an SVG on the way through a page. Its texts carry their length, which
// another language's has as well, as far as there is room.
type drawing struct {
	width   float64
	from    int // where it begins in the page that is written
	letters []lettering
}

// A lettering is a text of a drawing. In the page that is written the number of its length
// is left out, to be put in when the drawing ends.
type lettering struct {
	at        int // where the number belongs
	x, y      float64
	hangs     float64 // by its left end 0, by its middle a half, by its right end 1
	length    float64
	size      string
	weight    string
	was, said string
}

func (l lettering) left() float64  { return l.x - l.hangs*l.length }
func (l lettering) right() float64 { return l.left() + l.length }

var lengthOf = regexp.MustCompile(`(textLength=")[^"]*`)

// letter takes the tag of a drawing's text.
func (w *walk) letter(t nethtml.Token, raw []byte) {
	at := lengthOf.FindSubmatchIndex(raw)
	if w.drawing == nil || at == nil {
		w.out.Write(raw)
		return
	}
	l := lettering{at: w.out.Len() + at[3]}
	for _, a := range t.Attr {
		switch n, _ := strconv.ParseFloat(a.Val, 64); a.Key {
		case "x":
			l.x = n
		case "y":
			l.y = n
		case "textlength":
			l.length = n
		case "font-size":
			l.size = a.Val
		case "font-weight":
			l.weight = "bold"
		case "text-anchor":
			l.hangs = map[string]float64{"middle": 0.5, "end": 1}[a.Val]
		}
	}
	w.drawing.letters, w.letters = append(w.drawing.letters, l), true
	w.out.Write(raw[:at[3]])
	w.out.Write(raw[at[1]:])
}

// draw begins a drawing.
func (w *walk) draw(t nethtml.Token) {
	w.drawing = &drawing{from: w.out.Len()}
	for _, a := range t.Attr {
		if a.Key == "viewbox" {
			var x, y, h float64
			_, _ = fmt.Sscan(a.Val, &x, &y, &w.drawing.width, &h) // without it there is no room
		}
	}
}

// drawn ends a drawing: each length is put in.
func (w *walk) drawn() {
	d := w.drawing
	w.drawing = nil
	if d == nil {
		return
	}
	for i := range d.letters {
		d.lengthen(i)
	}
	body := bytes.Clone(w.out.Bytes()[d.from:])
	w.out.Truncate(d.from)
	from := 0
	for _, l := range d.letters {
		w.out.Write(body[from : l.at-d.from])
		fmt.Fprintf(&w.out, "%.5g", l.length)
		from = l.at - d.from
	}
	w.out.Write(body[from:])
}

// lengthen gives a text that was said the length that it has in the language, or what room
// there is.
func (d *drawing) lengthen(i int) {
	l := &d.letters[i]
	if l.said == l.was || l.size == "" {
		return
	}
	own := svg.Length(l.said, l.size, l.weight)
	l.length = math.Max(math.Min(own, l.length), math.Min(own, d.room(i)))
}

const (
	gap     = 6.0  // between two texts of a row
	keyRoom = 36.0 // between two keys of a legend: the mark of the second stands there
	wider   = 1.2  // as far words at the right may grow to the left, where marks are
)

// room is how long a text may be until the next one of its row, or the edge.
func (d *drawing) room(i int) float64 {
	l := d.letters[i]
	low, high := 0.0, d.width
	for j, other := range d.letters {
		switch {
		case j == i || math.Abs(other.y-l.y) > 4:
		case other.left() >= l.right() && other.hangs == 0 && l.hangs == 0:
			high = math.Min(high, other.left()-keyRoom)
		case other.left() >= l.right():
			high = math.Min(high, other.left()-gap)
		case other.right() <= l.left():
			low = math.Max(low, other.right()+gap)
		}
	}
	switch {
	case l.hangs == 0:
		return high - l.x
	case l.hangs == 1 && l.x > 0.75*d.width:
		return math.Min(l.x-low, wider*l.length)
	case l.hangs == 1:
		return l.x - low
	}
	return 2 * math.Min(l.x-low, high-l.x)
}
