package layout

import (
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// value is the text of a cell in the words of the order sheets.
func (r *rows) value(c sheets.Column, from source, col int, texts []string, key string) string {
	switch {
	case from.Always != "":
		return from.Always
	case from.ListedIn != "":
		if r.c.keys[from.ListedIn][key] {
			return "yes"
		}
		return from.Otherwise
	case col < 0:
		return ""
	}
	text := texts[col]
	if from.Without != "" {
		rest, ok := withoutPart(text, from.Without)
		if !ok {
			return ""
		}
		text = rest
	}
	p := wording.Plain(text)
	if word, ok := from.Words[p]; ok && p != "" {
		return word
	}
	if word, ok := r.t.Words[p]; ok && p != "" && (c.Kind == sheets.YesNo || c.Kind == sheets.Word || c.Kind == sheets.Open || c.Kind == sheets.Day) {
		return word
	}
	if p == "" || wording.Blank[p] && c.Kind != sheets.ID || r.t.Blank[p] {
		if word, ok := from.Words[""]; ok {
			return word
		}
		return from.Empty
	}
	for _, ph := range from.Phrases {
		if _, ok := wording.Cut(p, wording.Plain(ph.Says)); ok {
			return ph.Means
		}
	}
	if from.hasFilled {
		return from.Filled
	}
	switch c.Kind {
	case sheets.Day:
		return r.day(text, col)
	case sheets.YesNo:
		if word, ok := wording.YesNo[p]; ok {
			return word
		}
	case sheets.Money:
		if r.numeric[col] {
			return sheets.PlainMoney(text)
		}
		return wording.PlainMoney(text, r.t.Decimal)
	case sheets.Word, sheets.Open:
		if c.Name == "side" {
			if word, ok := wording.Sides[p]; ok {
				return word
			}
		}
		if c.Name == "point" {
			if word, ok := wording.Points[p]; ok {
				return word
			}
		}
	case sheets.Length:
		unit := from.Unit
		if unit == form.NoUnit {
			unit = r.t.Unit
		}
		if unit != form.NoUnit && lengths.WrittenIn(text, form.NoUnit) == form.NoUnit {
			return text + " " + unit.String()
		}
	}
	return text
}

// withoutPart takes a part off the end of a text, else off its beginning, in capitals or
// small letters. These may differ in bytes, so that places are counted in letters.
func withoutPart(text, part string) (rest string, ok bool) {
	letters := []rune(text)
	n := len([]rune(part))
	if n > len(letters) {
		return "", false
	}
	if end := len(letters) - n; strings.EqualFold(string(letters[end:]), part) {
		return strings.TrimSpace(string(letters[:end])), true
	}
	return strings.TrimSpace(string(letters[n:])), strings.EqualFold(string(letters[:n]), part)
}

func (r *rows) day(text string, col int) string {
	switch {
	case r.days[col]:
		return text
	case r.numeric[col]:
		return sheets.BareDay(text)
	}
	if d, err := wording.ReadDay(text, r.t.Days); err == nil {
		return d.Format(time.DateOnly)
	}
	return text
}

// holds reports whether a condition is true of a cell.
func (c condition) holds(text string) bool {
	list, want := c.Is, true
	if c.Not != nil {
		list, want = c.Not, false
	}
	for _, pattern := range list {
		fits := false
		switch wording.Plain(pattern) {
		case "empty":
			fits = strings.TrimSpace(text) == ""
		case "number":
			fits = text != "" && strings.Trim(text, "0123456789") == ""
		case "day":
			_, err := wording.ReadDay(text, wording.MonthFirst)
			_, err2 := wording.ReadDay(text, wording.DayFirst)
			fits = err == nil || err2 == nil
		default:
			fits = like(pattern, text)
		}
		if fits {
			return want
		}
	}
	return !want
}
