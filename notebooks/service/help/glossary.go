package help

import (
	"bytes"
	"cmp"
	"html/template"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"lastroom/reports/translation"
)

// A word is a hard word with what it means.
type word struct {
	ID, Name, Says string
	forms          []string // how it stands in English texts, lower case; none: it is never linked
}

// words are the glossary, in the order of the alphabet.
var words = inOrder([]word{
	{"adjusted", "adjusted: like pairs compared", "Tall boots miss more heights and are harder to fit anyway. So a fault is not judged by all pairs with it against all without, but by like pairs: the same kind of boot, the same wearer's ways, the other faults the same. What is left is what the fault itself goes with.", []string{"adjusted for", "taken into account"}},
	{"adjustment", "adjustment", "A pair that came back and was mended (stretched, taken in, padded) without being made again.", nil},
	{"as-of", "as-of day", "The day up to which the book is read. What came later does not count, even where it is in the book. Read as of an earlier day it shows what could be known then.", []string{"as-of day", "as of"}},
	{"at-risk", "at risk of a fault", "A fault can only be on a form where it could be made. A tucked set can be skipped only where trousers are worn inside the boot; other orders are not at risk of it and are not counted.", []string{"at risk"}},
	{"avoidable", "avoidable", "How many remakes fewer there would be in 100 new forms if those that a rule holds were asked about again, and as many mended as call-backs have mended so far.", []string{"avoidable"}},
	{"baseline", "baseline: what is usual", "The oldest year of months that are told to their end says what is usual. Later months are held against it.", []string{"baseline"}},
	{"bootstrap", "bootstrap", "A way to find an interval where no formula serves: the shop's customers are drawn again and again by lot, and everything is worked out anew each time. How far the answers lie apart is the interval.", []string{"bootstrap"}},
	{"calibration", "calibration", "Whether risks mean what they say: of 100 orders with a risk of 10 %, about 10 should come back.", []string{"calibration"}},
	{"call-back", "call-back", "Asking the customer for a new measurement before the leather is cut.", []string{"call-back", "call-backs"}},
	{"chance", "chance alone", "Even when nothing changes, one month has more remakes and another fewer, as dice fall. A month is news only where it lies beyond what chance makes of so many pairs.", []string{"chance alone", "by chance"}},
	{"cusum", "CUSUM", "A chart that adds up, order by order, what is more than usual. Small changes that no single month shows make it climb. It signals at its limit.", []string{"cusum"}},
	{"e-value", "E-value", "How strongly something that nobody noted would have to go with both the fault and the remakes to explain the finding away. The larger it is, the safer the finding.", []string{"e-value"}},
	{"fault", "fault", "Something wrong or missing on a measuring form. Most are noted by whoever looks at the form; some are read off the numbers (left and right alike to the digit, a number in the wrong unit).", nil},
	{"false-discovery", "q: how many findings are chance", "Who looks at many faults finds some by chance. Of all findings with a q up to 0.05, about 5 in 100 are chance. The first sheet says it in words: sure, fairly sure, a hint.", []string{"false discovery share", "q values"}},
	{"first-form", "first form, form cut from", "The first form is the order's first measuring. After a call-back there is a second one. The form cut from is the one by which the leather was cut: its faults are what the boot has to bear. What a rule holds is counted on first forms.", []string{"first form", "first forms", "form cut from", "forms cut from"}},
	{"finding", "finding", "Something that is more than chance makes, with how large it is, how sure, and what to do about it.", nil},
	{"goes-with", "goes with", "Where a fault is, remakes are more frequent. That is all that records can say; they cannot say that it makes them. A rule that is switched on shows it afterwards.", []string{"goes with", "go with"}},
	{"held", "held", "A form that is not cut yet, because it is asked about first.", nil},
	{"interval", "interval: between … and …", "What is counted on some hundred pairs is never exact. The interval is what the figure may well be: of 100 such intervals, 95 hold the true figure. A wide one says: too few pairs to know better.", []string{"interval", "intervals"}},
	{"kept-out", "kept out", "A row of a sheet that could not be read. It is listed with its file, line and reason, and waits to be mended.", []string{"kept out"}},
	{"load", "load", "One reading of sheets into the book. It goes in whole or not at all.", nil},
	{"mature", "mature: out long enough to tell", "Pairs come back months after they were shipped. A pair is mature when it has been out for as long as 95 of 100 remakes take to be told of. Younger ones look better than they are, so only mature ones are compared.", []string{"mature", "out long enough to tell"}},
	{"net", "net", "What a rule brings in money: the remakes it spares, less the calls and the days they cost.", nil},
	{"no-word", "no word", "Orders of which nothing was heard. They count as kept, which may be too good: the review says how far that could move its figures.", []string{"no word", "nobody sent word"}},
	{"notebook", "notebook", "Text and questions that run from top to bottom and make a page. The review is one. See how a figure comes about, or write your own.", nil},
	{"not-known", "not known", "A fault that nobody could judge on a form. It is neither there nor absent, and is counted apart: “unknown” is never “no”.", []string{"not known", "not judged"}},
	{"order-book", "order book", "One file with all orders, forms, numbers and reports of the shop. Beside it lies a folder that belongs to it.", nil},
	{"order-sheet", "order sheet", "A table of records that goes into the book: orders, forms, measurements, outcomes and a few more. Spreadsheets as you keep them can be loaded too.", []string{"order sheets"}},
	{"promise", "promise", "What a rule was to spare by the orders before it was switched on. Later it is held to that.", []string{"promise", "promised"}},
	{"remake", "remake", "A pair that came back and was made again, told of within a year and before any return for the money.", nil},
	{"return", "return", "A pair that was given back for the money. It can't be remade any more, so it is counted apart.", nil},
	{"risk", "remake risk", "How likely an order is to come back, as its form stands, learned from the shop's own past orders.", []string{"remake risk"}},
	{"rule", "rule", "Says which forms are held before cutting, as “tape marks missing”. It is on from one day to another, so that before and after can be compared.", nil},
	{"slipped-through", "slipped through", "A form that a rule holds and that was cut all the same, without an answer.", []string{"slipped through", "cut all the same"}},
	{"tape-mark", "tape mark", "Where the tape lay, marked on the tracing, so that the number and the place belong together.", []string{"tape mark", "tape marks"}},
	{"tracing", "tracing", "The pencil outline of the foot on paper, with the tape marks.", []string{"tracing", "tracings"}},
	{"tucked", "tucked", "Trousers are worn inside the boot, so the leg is measured over them too: the tucked set.", []string{"tucked", "tucked set"}},
})

func inOrder(words []word) []word {
	slices.SortFunc(words, func(a, b word) int { return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
	return words
}

// A finder finds the hard words of a language in texts.
type finder struct {
	forms *regexp.Regexp // the longer form first
	of    map[string]string
}

var finders sync.Map // from *translation.Language to finder

// finderIn is the finder of a language; nil: English.
func finderIn(l *translation.Language) finder {
	if f, made := finders.Load(l); made {
		return f.(finder)
	}
	f := finder{of: map[string]string{}}
	var forms []string
	for _, w := range words {
		in := w.forms
		if l != nil && len(w.forms) > 0 {
			in = l.Forms(w.ID)
		}
		for _, form := range in {
			forms, f.of[form] = append(forms, regexp.QuoteMeta(form)), w.ID
		}
	}
	slices.SortFunc(forms, func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) })
	f.forms = regexp.MustCompile(`(?i)(?:` + strings.Join(forms, "|") + `)`)
	finders.Store(l, f)
	return f
}

// link writes links around the hard words of a text that are not seen yet.
func (f finder) link(text []byte, seen map[string]bool) []byte {
	var out []byte
	from := 0
	for _, at := range f.forms.FindAllIndex(text, -1) {
		before, _ := utf8.DecodeLastRune(text[:at[0]])
		after, _ := utf8.DecodeRune(text[at[1]:])
		id := f.of[strings.ToLower(string(text[at[0]:at[1]]))]
		if inWord(before) || inWord(after) || seen[id] {
			continue
		}
		seen[id] = true
		out = append(append(out, text[from:at[0]]...), `<a class="word" href="/help/words#`+id+`">`...)
		out = append(append(out, text[at[0]:at[1]]...), `</a>`...)
		from = at[1]
	}
	return append(out, text[from:]...)
}

func inWord(r rune) bool { return r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r) }

// readIn are the elements whose text is read from end to end; nothing is linked
// elsewhere, nor inside what is a link, a picture or code already.
var readIn = map[atom.Atom]bool{atom.P: true, atom.Li: true, atom.Dd: true, atom.Figcaption: true}

var neverIn = map[atom.Atom]bool{atom.A: true, atom.Svg: true, atom.Code: true, atom.Pre: true, atom.Nav: true, atom.Table: true, atom.Form: true, atom.Footer: true, atom.Script: true}

// Linked leads from the first place where a page has a hard word to the glossary. The
// body is what the program made itself; where it is not well formed it stays as it is.
func Linked(body template.HTML) template.HTML {
	return template.HTML(finderIn(nil).linked([]byte(body)))
}

var links = regexp.MustCompile(`<a class="word" href="/help/words#[a-z-]+">([^<]*)</a>`)

// Said says a finished page in a language. Where its hard words led to the glossary, those
// of the language do: a link within a sentence would hide it from the catalogue. It gives the
// page and what stayed untold.
func Said(page []byte, l *translation.Language) ([]byte, []string) {
	plain := links.ReplaceAll(page, []byte("$1"))
	said, untold := l.Page(plain)
	if len(plain) < len(page) {
		return finderIn(l).linked(said), untold
	}
	return said, untold
}

func (f finder) linked(body []byte) []byte {
	var out bytes.Buffer
	z := html.NewTokenizer(bytes.NewReader(body))
	seen := map[string]bool{}
	reads, never := 0, 0
	count := func(name []byte, by int) {
		switch a := atom.Lookup(name); {
		case readIn[a]:
			reads += by
		case neverIn[a]:
			never += by
		}
	}
	for {
		kind := z.Next()
		raw := z.Raw()
		switch kind {
		case html.ErrorToken:
			return out.Bytes()
		case html.StartTagToken:
			raw = bytes.Clone(raw) // the name is read in place
			name, _ := z.TagName()
			count(name, 1)
		case html.EndTagToken:
			raw = bytes.Clone(raw)
			name, _ := z.TagName()
			count(name, -1)
		case html.TextToken:
			if reads > 0 && never == 0 {
				raw = f.link(raw, seen)
			}
		}
		out.Write(raw)
	}
}
