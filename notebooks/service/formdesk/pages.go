package formdesk

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"lastroom/analysis/care"
	"lastroom/analysis/form"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/help"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{"isolate": page.Isolate}).ParseFS(templateFiles, "templates/*.tmpl"))

func (p *Pages) show(w http.ResponseWriter, r *http.Request, status int, name, title string, data any) error {
	show := help.Show
	if name == "letter" { // the customer reads that
		show = topic.Show
	}
	return show(p.Host, w, r, topic.View{Status: status, Title: title, Templates: templates, Name: name, Data: data})
}

// A typing is the page on which a form is typed in.
type typing struct {
	fields
	Editor  bool
	Seen    int    // version of the order that was on the page
	Draft   string // what a draft of it is called in the browser; "" for none
	Heading string
	Lead    string
	Problem string
	Answer  *Answer
	Pairs   []pair
	Body    template.HTML
	Text    url.Values // what was typed in, for the form of the letter
	Mind    []string   // cautions
	// Of a conflict: what the other person kept, and where what is typed differs.
	Other   *KeptForm
	Differs []change
}

type pair struct{ Address, Order, Words string }

// longestText is how many characters a field of the form may hold.
const longestText = 4000

// typed reads the page's form.
func (p *Pages) typed(r *http.Request, v url.Values) (typing, Form, error) {
	for _, texts := range v { // what is shown again is copied many times on its way
		if slices.ContainsFunc(texts, func(text string) bool { return utf8.RuneCountInString(text) > longestText }) {
			return typing{}, Form{}, topic.BadRequest("That is too long: 4,000 characters in a field.")
		}
	}
	heights, err := p.Desk.Heights(r.Context())
	if err != nil {
		return typing{}, Form{}, err
	}
	t := typing{Editor: p.Host.Visitor(r).Role >= access.Editor, Heading: "The form desk", Text: v, Mind: care.General}
	t.Seen, _ = strconv.Atoi(v.Get("seen"))
	var f Form
	t.fields, f = fieldsOf(v, heights)
	return t, f, nil
}

// empty shows an empty form, with the next numbers proposed, and the shop's unit; that of
// the page's language where the shop has none yet.
func (p *Pages) empty(w http.ResponseWriter, r *http.Request) error {
	next, err := p.Desk.Next(r.Context())
	if err != nil {
		return err
	}
	if next.Unit == form.NoUnit {
		next.Unit = sheet.UnitOf(sheet.Words.Language(p.Host.Language(r)))
	}
	t, _, err := p.typed(r, url.Values{FieldReceived: {p.Host.Now().Format("2006-01-02")}, FieldOrder: {next.Order}, FieldForm: {next.Form},
		FieldUnit: {next.Unit.String()}, FieldShaftUnit: {next.Unit.String()}})
	if err != nil {
		return err
	}
	t.Draft, t.IDs[0].Focus = "new", true
	return p.show(w, r, http.StatusOK, "desk", "The form desk", t)
}

// again shows the form for the answer that came, with the former values in it.
func (p *Pages) again(w http.ResponseWriter, r *http.Request) error {
	k, err := p.keptOf(r)
	if err != nil {
		return err
	}
	f := k.Last().Form
	was := f.ID
	f.ID, f.Received = nextForm(f.ID, f.OrderID, k), p.Host.Now().Format("2006-01-02")
	return p.prefilled(w, r, k, f, "again", "The answer to form "+was,
		"The former numbers stand in the fields: type over what the answer says otherwise. It is kept as a form of its own, and compared with the former one.")
}

// mend shows the last form as it was typed in, for mistakes in the typing.
func (p *Pages) mend(w http.ResponseWriter, r *http.Request) error {
	k, err := p.keptOf(r)
	if err != nil {
		return err
	}
	f := k.Last().Form
	return p.prefilled(w, r, k, f, "mend", "Form "+f.ID+", typed wrongly",
		"For mistakes in the typing: what is kept takes the place of what was typed before. If a new paper came, key it as the answer instead.")
}

func (p *Pages) prefilled(w http.ResponseWriter, r *http.Request, k *Kept, f Form, draft, heading, lead string) error {
	v := valuesOf(f)
	v.Set("seen", strconv.Itoa(k.Version))
	t, _, err := p.typed(r, v)
	if err != nil {
		return err
	}
	t.Heading, t.Lead, t.Draft = heading, lead, fmt.Sprintf("%s-%s-%d", draft, p.Shop.Word("order", k.Order), k.Version)
	return p.show(w, r, http.StatusOK, "desk", heading, t)
}

// nextForm numbers the form after the last one: the order's number and how many
// forms it has, as measuring sheets are numbered, or the last number and one.
func nextForm(last, order string, k *Kept) string {
	for n := len(k.Forms) + 1; ; n++ {
		id := fmt.Sprintf("%s-%d", order, n)
		if !strings.HasPrefix(last, order+"-") {
			id = Following(last)
		}
		taken := false
		for _, f := range k.Forms {
			taken = taken || f.ID == id
		}
		if !taken {
			return id
		}
		last = id
	}
}

// Following is the number after one: its last figures and one, as wide as they were.
func Following(id string) string {
	at := len(id)
	for at > 0 && id[at-1] >= '0' && id[at-1] <= '9' && len(id)-at < 18 {
		at--
	}
	n, err := strconv.ParseInt(id[at:], 10, 64)
	if err != nil {
		return id + "-2"
	}
	return id[:at] + fmt.Sprintf("%0*d", len(id)-at, n+1)
}

// check judges the form that was typed in. Nothing is kept.
func (p *Pages) check(w http.ResponseWriter, r *http.Request) error {
	t, f, err := p.typed(r, r.PostForm)
	if err != nil {
		return err
	}
	return p.judged(w, r, http.StatusOK, t, f)
}

// judged shows a form with what the desk says of it.
func (p *Pages) judged(w http.ResponseWriter, r *http.Request, status int, t typing, f Form) error {
	title := t.Heading
	a, err := p.Desk.Check(r.Context(), f, true)
	switch {
	case err != nil:
		if t.Problem == "" {
			t.Problem = form.Sentence(err.Error())
		}
		if status == http.StatusOK {
			status = http.StatusUnprocessableEntity
		}
	default:
		t.Answer, title = a, form.Capitalised(a.Verdict)+" · "+t.Heading
		says := map[string]string{}
		maps.Copy(says, a.Says)
		for _, f := range t.IDs { // what could not be kept
			if f.Says != "" {
				says[f.Name] = f.Says
			}
		}
		t.say(says)
		for _, x := range a.Pairs {
			t.Pairs = append(t.Pairs, pair{"/order/" + p.Shop.Word("order", x.Order), x.Order, x.Words})
		}
		if t.Body, err = p.Shop.Inner(a.Doc); err != nil {
			return err
		}
	}
	return p.show(w, r, status, "desk", title, t)
}

// doubts answers the page's script while numbers are typed in.
func (p *Pages) doubts(w http.ResponseWriter, r *http.Request) error {
	_, f, err := p.typed(r, r.PostForm)
	if err != nil {
		return err
	}
	type pairJSON struct {
		Address string `json:"address"`
		Order   string `json:"order"`
		Words   string `json:"words"`
	}
	answer := struct {
		Verdict string            `json:"verdict"`
		Doubts  map[string]string `json:"doubts"`
		Notes   []string          `json:"notes"`
		Pairs   []pairJSON        `json:"pairs"`
		Problem string            `json:"problem,omitempty"`
	}{Doubts: map[string]string{}, Notes: []string{}, Pairs: []pairJSON{}}
	if got, err := p.Desk.Check(r.Context(), f, false); err != nil {
		answer.Problem = form.Sentence(err.Error())
	} else {
		answer.Verdict = got.Verdict
		if got.Says != nil {
			answer.Doubts = got.Says
		}
		answer.Notes = append(answer.Notes, got.Notes...)
		for _, x := range got.Pairs {
			answer.Pairs = append(answer.Pairs, pairJSON{"/order/" + p.Shop.Word("order", x.Order), x.Order, x.Words})
		}
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(answer)
}

// unkeptLetter shows the letter about a form that is not kept, for print.
func (p *Pages) unkeptLetter(w http.ResponseWriter, r *http.Request) error {
	_, f, err := p.typed(r, r.PostForm)
	if err != nil {
		return err
	}
	got, err := p.Desk.Check(r.Context(), f, true)
	if err != nil {
		return topic.NewProblem(http.StatusUnprocessableEntity, form.Sentence(err.Error()), err)
	}
	if got.Letter == nil {
		return topic.NewProblem(http.StatusConflict, "Nothing has to be asked: there is no letter to write.", nil)
	}
	language := p.letterLanguage(r)
	return p.showLetter(w, r, got.Letter(language), letterPage{Back: "/desk", BackTo: "Back to the desk", Address: "/desk/letter", Language: language, Text: r.PostForm})
}

type letterPage struct {
	Back, BackTo string
	Address      string // of this page
	Language     string
	Others       []translation.Tongue // that the letter may be had in
	Text         url.Values           // what was typed in; nil where the form is kept, so that there is no draft of it any more
	Body         template.HTML
}

// letterLanguage is the language that was chosen for the letter, or that of the page.
func (p *Pages) letterLanguage(r *http.Request) string {
	chosen := r.FormValue("letter_language")
	if slices.ContainsFunc(translation.Tongues, func(l translation.Tongue) bool { return l.Tag == chosen }) {
		return chosen
	}
	return p.Host.Language(r)
}

func (p *Pages) showLetter(w http.ResponseWriter, r *http.Request, letter *page.Document, shown letterPage) (err error) {
	if shown.Body, err = p.Shop.Whole(r, letter); err != nil {
		return err
	}
	for _, l := range translation.Tongues {
		if l.Tag != shown.Language {
			shown.Others = append(shown.Others, l)
		}
	}
	delete(shown.Text, "letter_language")
	return p.show(w, r, http.StatusOK, "letter", "The letter", shown)
}

// keep keeps the form that was typed in.
func (p *Pages) keep(w http.ResponseWriter, r *http.Request) error {
	t, f, err := p.typed(r, r.PostForm)
	if err != nil {
		return err
	}
	by := p.who(r)
	if err := p.Host.Audit(r, "keep a form at the desk", "", "begun"); err != nil {
		return err
	}
	k, err := p.Desk.Keep(r.Context(), f, by, t.Seen)
	var wrong Wrong
	switch {
	case errors.Is(err, ErrChanged):
		other := k.Last()
		for _, of := range k.Forms {
			if of.ID == f.ID {
				other = of
			}
		}
		t.Other, t.Differs, t.Seen = &other, compare(other.Form, f), k.Version
		t.Problem = fmt.Sprintf("Nothing is lost: %s has kept form %s of this order meanwhile. What differs stands below; what you typed is in the fields. Mend it and keep it again, or leave this page.", other.By, other.ID)
		if other.ID != f.ID {
			t.Problem += " Yours has another number, so it is kept as a further form of the order."
		}
		return p.judged(w, r, http.StatusConflict, t, f)
	case errors.As(err, &wrong):
		t.say(wrong)
		t.Problem = "Not kept yet: something has to be mended first; it is said beside its field."
		return p.judged(w, r, http.StatusUnprocessableEntity, t, f)
	case err != nil:
		t.Problem = "Not kept: " + form.Sentence(err.Error())
		return p.judged(w, r, http.StatusUnprocessableEntity, t, f)
	}
	at := "/desk/kept/" + p.Shop.Word("order", k.Order)
	if r.PostForm.Get("do") == ByLetter && k.Last().Held {
		if _, err := p.Desk.Do(r.Context(), k.Order, ByLetter, by, k.Version); err != nil {
			return err
		}
		at += "/letter"
	}
	http.Redirect(w, r, at, http.StatusSeeOther)
	return nil
}

// who is the visitor as a page names them later.
func (p *Pages) who(r *http.Request) string {
	name := p.Host.Visitor(r).Name
	if strings.HasPrefix(name, "at ") { // without tokens nobody has a name
		name = "somebody " + name
	}
	return name
}
