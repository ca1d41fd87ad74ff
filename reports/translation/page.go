package translation

import (
	"bytes"
	"crypto/sha256"
	"html"
	"regexp"
	"strings"
	"unicode"

	nethtml "golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// within are the elements that stand within a sentence.
var within = map[atom.Atom]bool{
	atom.A: true, atom.Abbr: true, atom.B: true, atom.Br: true, atom.Cite: true, atom.Code: true, atom.Em: true, atom.I: true, atom.Kbd: true,
	atom.Mark: true, atom.Q: true, atom.S: true, atom.Small: true, atom.Span: true, atom.Strong: true, atom.Sub: true, atom.Sup: true,
	atom.Time: true, atom.U: true, atom.Var: true, atom.Wbr: true,
}

// asIs are the elements whose content is no sentence of the program.
var asIs = map[atom.Atom]bool{atom.Code: true, atom.Kbd: true, atom.Pre: true, atom.Script: true, atom.Style: true, atom.Textarea: true}

// spoken are the attributes that hold what people read or hear, as they stand in a tag.
var spoken = regexp.MustCompile(`(\s(?:alt|aria-description|aria-label|aria-roledescription|data-head|data-say[a-z-]*|label|placeholder|title)=")([^"]*)"`)

// Page says a finished page in the language: texts, spoken attributes (and those that begin
// with data-say), and the lang of the page. It gives the page and what stayed untold. A page
// that says it is in another language than English, or is not to be said, stays as it is.
func (l *Language) Page(page []byte) ([]byte, []string) {
	key := sha256.Sum256(page)
	if said, ok := l.shown.get(key); ok {
		return said.page, said.untold
	}
	said, untold := l.walk(page)
	l.shown.put(key, saidPage{said, untold})
	return said, untold
}

func (l *Language) walk(page []byte) ([]byte, []string) {
	w := walk{language: l}
	z := nethtml.NewTokenizer(bytes.NewReader(page))
	for {
		kind := z.Next()
		if kind == nethtml.ErrorToken {
			w.close()
			w.drawn()
			w.out.Write(w.kept.Bytes()) // what stays as it is and never ended
			return w.out.Bytes(), w.untold
		}
		raw := bytes.Clone(z.Raw())
		switch kind {
		case nethtml.TextToken:
			w.text(raw)
		case nethtml.StartTagToken, nethtml.SelfClosingTagToken:
			t := z.Token()
			if t.DataAtom == atom.Html && (!isEnglish(t) || notToSay(t)) {
				return page, nil
			}
			w.open(t, raw)
		case nethtml.EndTagToken:
			t := z.Token()
			w.shut(t, raw)
		default:
			w.close()
			w.out.Write(raw)
		}
	}
}

func isEnglish(t nethtml.Token) bool {
	for _, a := range t.Attr {
		if a.Key == "lang" {
			return a.Val == "en"
		}
	}
	return true
}

// A walk is on its way through a page.
type walk struct {
	language *Language
	out      bytes.Buffer
	untold   []string

	unit  strings.Builder // the text since the last block element, with marks
	marks [][]byte        // what each mark stands for: the tag that opens, or what stands alone
	shuts map[rune][]byte // the tags that close
	stack []rune          // the marks that are open

	still   int // depth inside what stays as it is
	stillIn atom.Atom
	kept    bytes.Buffer // what stays as it is, within a sentence
	inline  bool

	drawing *drawing // that is under way
	letters bool     // the unit is a text of it
}

func (w *walk) text(raw []byte) {
	if w.still > 0 {
		w.keep(raw)
		return
	}
	w.unit.WriteString(withoutMarks(html.UnescapeString(string(raw))))
}

// withoutMarks takes out of a text what would be read as the walk's own marks.
func withoutMarks(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= opens && r < alone+most {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// keep takes what stays as it is: into the sentence that it stands in, or to the page.
func (w *walk) keep(raw []byte) {
	if w.inline {
		w.kept.Write(raw)
		return
	}
	w.out.Write(raw)
}

func (w *walk) open(t nethtml.Token, raw []byte) {
	if w.still > 0 {
		w.keep(raw)
		if t.Type == nethtml.StartTagToken && t.DataAtom == w.stillIn {
			w.still++
		}
		return
	}
	still := t.Type == nethtml.StartTagToken && (asIs[t.DataAtom] || notToSay(t)) && !void[t.DataAtom]
	raw = w.attributes(t, raw)
	switch {
	case still:
		w.still, w.stillIn, w.inline = 1, t.DataAtom, within[t.DataAtom]
		if !w.inline {
			w.close()
		}
		w.keep(raw)
	case t.DataAtom == atom.Svg:
		w.close()
		w.draw(t)
		w.out.Write(raw)
	case t.Data == "text":
		w.close()
		w.letter(t, raw)
	case !within[t.DataAtom]:
		w.close()
		w.out.Write(raw)
	case t.Type == nethtml.SelfClosingTagToken || void[t.DataAtom]:
		w.mark(alone, raw)
	default:
		k := w.mark(opens, raw)
		w.stack = append(w.stack, k)
	}
}

func (w *walk) shut(t nethtml.Token, raw []byte) {
	switch {
	case w.still > 0:
		w.keep(raw)
		if t.DataAtom != w.stillIn {
			return
		}
		if w.still--; w.still == 0 && w.inline {
			w.mark(alone, bytes.Clone(w.kept.Bytes()))
			w.kept.Reset()
			w.inline = false
		}
	case !within[t.DataAtom] || len(w.stack) == 0:
		w.close()
		w.out.Write(raw)
		if t.DataAtom == atom.Svg {
			w.drawn()
		}
	default:
		k := w.stack[len(w.stack)-1]
		w.stack = w.stack[:len(w.stack)-1]
		w.unit.WriteRune(closes + k)
		if w.shuts == nil {
			w.shuts = map[rune][]byte{}
		}
		w.shuts[k] = raw
	}
}

// mark puts a mark into the unit and gives its number.
func (w *walk) mark(kind rune, raw []byte) rune {
	w.marks = append(w.marks, raw)
	k := rune(len(w.marks))
	if k >= most { // no sentence has so many: the unit ends here
		w.marks = w.marks[:k-1]
		w.close()
		w.marks = [][]byte{raw}
		k = 1
	}
	w.unit.WriteRune(kind + k)
	return k
}

// close says the unit and writes it.
func (w *walk) close() {
	unit := w.unit.String()
	marks, shuts := w.marks, w.shuts
	w.unit.Reset()
	w.marks, w.shuts, w.stack = nil, nil, nil
	letters := w.letters
	w.letters = false
	body := strings.TrimFunc(unit, unicode.IsSpace)
	if body == "" {
		w.out.WriteString(unit)
		return
	}
	at := strings.Index(unit, body)
	said := w.language.tell(body)
	w.untold = append(w.untold, said.untold...)
	if letters {
		l := &w.drawing.letters[len(w.drawing.letters)-1]
		l.was, l.said = body, said.said
	}
	for _, r := range unit[:at] + said.said + unit[at+len(body):] {
		switch {
		case r > opens && r < opens+most && int(r-opens) <= len(marks):
			w.out.Write(marks[r-opens-1])
		case r > closes && r < closes+most:
			w.out.Write(shuts[r-closes])
		case r > alone && r < alone+most && int(r-alone) <= len(marks):
			w.out.Write(marks[r-alone-1])
		case r == '<':
			w.out.WriteString("&lt;")
		case r == '>':
			w.out.WriteString("&gt;")
		case r == '&':
			w.out.WriteString("&amp;")
		default:
			w.out.WriteRune(r)
		}
	}
}

// attributes gives a tag with its spoken attributes said; all else stands as it stood, for
// the names of attributes in a drawing have capitals.
func (w *walk) attributes(t nethtml.Token, raw []byte) []byte {
	if t.DataAtom == atom.Html {
		raw = bytes.Replace(raw, []byte(`lang="en"`), []byte(`lang="`+w.language.Tag+`"`), 1)
	}
	return spoken.ReplaceAllFunc(raw, func(attribute []byte) []byte {
		parts := spoken.FindSubmatch(attribute)
		said := w.language.tell(withoutMarks(html.UnescapeString(string(parts[2]))))
		w.untold = append(w.untold, said.untold...)
		return append(append(parts[1], html.EscapeString(said.said)...), '"')
	})
}

func notToSay(t nethtml.Token) bool {
	for _, a := range t.Attr {
		if a.Key == "translate" && a.Val == "no" {
			return true
		}
	}
	return false
}

// void are the elements that have no end tag.
var void = map[atom.Atom]bool{
	atom.Area: true, atom.Base: true, atom.Br: true, atom.Col: true, atom.Embed: true, atom.Hr: true, atom.Img: true, atom.Input: true, atom.Link: true,
	atom.Meta: true, atom.Source: true, atom.Track: true, atom.Wbr: true,
}
