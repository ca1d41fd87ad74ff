package sheets

import (
	"strconv"
	"strings"
	"unicode"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/yaml"
)

// A Setting is a shop setting as the book keeps it.
type Setting struct{ Name, Value string }

// tallest is the height in millimetres that a scheme must be able to reach.
const tallest = 1000

// longestCurrency is how many characters a currency's sign may have.
const longestCurrency = 4

// ReadSettings reads a file of shop settings, in YAML:
//
//	first_leg_height: 7 in     # lowest height of a leg girth above the floor
//	leg_step: 2 in             # from one height to the next
//	leg_tolerance: 0.5 mm      # how far off a height may be and still count
//	heel_girth: short          # short or long
//	ankle_girth: least         # least, over-bones or none
//	book_begins: 2024-03-01    # orders received from then on are all in the book
//	currency: €                # written with amounts of money
//	hold_share: 0.2            # of first forms that the desk may hold at most
//
// A name that is left out keeps the value it has in the book.
func ReadSettings(path string) ([]Setting, error) {
	f, err := yaml.Read(path)
	if err != nil {
		return nil, err
	}
	var out []Setting
	for _, p := range f.Root.Table {
		s, err := setting(f, p)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

func setting(f *yaml.File, p yaml.Pair) (Setting, error) {
	s := Setting{Name: p.Key}
	var err error
	switch p.Key {
	case "first_leg_height", "leg_step", "leg_tolerance":
		s.Name += "_mm"
		s.Value, err = millimetres(f, p)
	case "heel_girth":
		s.Value, err = oneOf(f, p.Value, form.Texts(form.HeelGirths))
	case "ankle_girth":
		s.Value, err = oneOf(f, p.Value, form.Texts(form.AnkleGirths))
	case "book_begins":
		if _, wrong := cohort.ParseDay(p.Value.Text); !p.Value.IsText || wrong != nil {
			err = f.Wrong(p.Value, "%q is no day; write it as 2024-03-01", p.Value.Text)
		}
		s.Value = p.Value.Text
	case "currency":
		s.Value = strings.TrimSpace(p.Value.Text)
		if strange := strings.IndexFunc(s.Value, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.Is(unicode.Sc, r) && r != '.' }); !p.Value.IsText || s.Value == "" || len([]rune(s.Value)) > longestCurrency || strange >= 0 {
			err = f.Wrong(p.Value, "%q is no sign of a currency; write it as €, CHF or kr.", p.Value.Text)
		}
	case "hold_share":
		if x, wrong := strconv.ParseFloat(p.Value.Text, 64); !p.Value.IsText || wrong != nil || !(x > 0 && x < 1) {
			err = f.Wrong(p.Value, "%q is no share between 0 and 1; write it as 0.2", p.Value.Text)
		}
		s.Value = p.Value.Text
	default:
		err = f.Wrong(p.At, "%q is no shop setting; there are first_leg_height, leg_step, leg_tolerance, heel_girth, ankle_girth, book_begins, currency, hold_share", p.Key)
	}
	return s, err
}

func millimetres(f *yaml.File, p yaml.Pair) (string, error) {
	text, err := f.One(p.Value)
	if err != nil {
		return "", err
	}
	mm, err := lengths.Parse(text, form.NoUnit, lengths.Options{DecimalComma: true})
	if number, _, _ := strings.Cut(Fold(text), "_"); number == "0" && p.Key == "leg_tolerance" {
		mm, err = 0, nil // no length is 0, but a tolerance may be
	}
	switch {
	case err != nil:
		return "", f.Wrong(p.Value, "%q %s", text, err)
	case p.Key == "leg_step" && mm*form.MostHeights < tallest:
		return "", f.Wrong(p.Value, "a step of %s makes more than %d heights up to a metre", text, form.MostHeights)
	case mm > tallest:
		return "", f.Wrong(p.Value, "%s is no height of a leg girth", text)
	}
	return strconv.FormatFloat(mm, 'f', -1, 64), nil
}

func oneOf(f *yaml.File, n yaml.Node, words []string) (string, error) {
	c := Column{Kind: Word, Words: words}
	w, ok := c.word(n.Text)
	if !n.IsText || !ok {
		return "", f.Wrong(n, "%q is none of %s", n.Text, strings.Join(words, ", "))
	}
	return w, nil
}
