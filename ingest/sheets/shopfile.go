package sheets

import (
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

// A Setting is a shop setting as the book keeps it.
type Setting struct{ Name, Value string }

// tallest is the height in millimetres that a scheme must be able to reach.
const tallest = 1000

// ReadSettings reads a file of shop settings, in YAML:
//
//	first_leg_height: 7 in     # lowest height of a leg girth above the floor
//	leg_step: 2 in             # from one height to the next
//	leg_tolerance: 0.5 mm      # how far off a height may be and still count
//	heel_girth: short          # short or long
//	ankle_girth: least         # least, over-bones or none
//
// A name that is left out keeps the value it has in the book.
func ReadSettings(path string) ([]Setting, error) {
	f, err := readYAML(path)
	if err != nil {
		return nil, err
	}
	var out []Setting
	for _, p := range f.root.table {
		s, err := f.setting(p)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

func (f *yamlFile) setting(p pair) (Setting, error) {
	s := Setting{Name: p.key}
	var err error
	switch p.key {
	case "first_leg_height", "leg_step", "leg_tolerance":
		s.Name += "_mm"
		s.Value, err = f.millimetres(p)
	case "heel_girth":
		s.Value, err = f.word(p.value, form.Texts(form.HeelGirths))
	case "ankle_girth":
		s.Value, err = f.word(p.value, form.Texts(form.AnkleGirths))
	default:
		err = f.wrong(p.at, "%q is no shop setting; there are first_leg_height, leg_step, leg_tolerance, heel_girth, ankle_girth", p.key)
	}
	return s, err
}

func (f *yamlFile) millimetres(p pair) (string, error) {
	text, err := f.one(p.value)
	if err != nil {
		return "", err
	}
	mm, err := lengths.Parse(text, form.NoUnit, lengths.Options{DecimalComma: true})
	if number, _, _ := strings.Cut(Fold(text), "_"); number == "0" && p.key == "leg_tolerance" {
		mm, err = 0, nil // no length is 0, but a tolerance may be
	}
	switch {
	case err != nil:
		return "", f.wrong(p.value, "%q %s", text, err)
	case p.key == "leg_step" && mm*form.MostHeights < tallest:
		return "", f.wrong(p.value, "a step of %s makes more than %d heights up to a metre", text, form.MostHeights)
	case mm > tallest:
		return "", f.wrong(p.value, "%s is no height of a leg girth", text)
	}
	return strconv.FormatFloat(mm, 'f', -1, 64), nil
}
