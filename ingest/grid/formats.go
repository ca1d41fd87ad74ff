package grid

import (
	"encoding/xml"
	"errors"
	"strconv"
	"strings"
	"time"
)

// A format is what a number format says of a number.
type format struct {
	day  bool
	unit string // written behind the number, as " cm"
}

// builtinDay reports whether a number format is a day without being written out
// (ECMA-376 part 1, 18.8.30).
func builtinDay(id int) bool {
	return id >= 14 && id <= 22 || id >= 27 && id <= 36 || id >= 45 && id <= 47 || id >= 50 && id <= 58
}

func (w *workbook) readFormats() error {
	if !w.has("xl/styles.xml") {
		return nil
	}
	written := map[int]format{}
	inCells := false
	return w.each("xl/styles.xml", func(tok xml.Token) error {
		switch e := tok.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "numFmt":
				id, _ := strconv.Atoi(attr(e, "numFmtId"))
				written[id] = readFormat(attr(e, "formatCode"))
			case "cellXfs":
				inCells = true
			case "xf":
				if !inCells {
					break
				}
				id, _ := strconv.Atoi(attr(e, "numFmtId"))
				f, ok := written[id]
				if !ok {
					f.day = builtinDay(id)
				}
				if w.formats = append(w.formats, f); len(w.formats) > 1<<16 {
					return errors.New("it holds more than 65,536 cell formats")
				}
			}
		case xml.EndElement:
			if e.Name.Local == "cellXfs" {
				inCells = false
			}
		}
		return nil
	})
}

// readFormat reads a number format: its first section, for positive numbers.
// Letters of days and hours outside quotes make it a day; quoted or escaped
// text behind the number is its unit, as in 0.0" cm".
func readFormat(code string) (f format) {
	code = code[:min(len(code), maxFormat)]
	var literal, shape strings.Builder
	for i := 0; i < len(code); i++ {
		switch c := code[i]; {
		case c == '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				end = len(code) - i - 1
			}
			literal.WriteString(code[i+1 : i+1+end])
			i += end + 1
		case c == '\\' && i+1 < len(code):
			i++
			literal.WriteByte(code[i])
		case c == '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				end = len(code)
			}
			i += end
		case c == '_' && i+1 < len(code): // a blank as wide as the next sign
			i++
		case c == ';':
			i = len(code)
		default:
			shape.WriteByte(c)
		}
	}
	if s := strings.ToLower(shape.String()); strings.ContainsAny(s, "ymdh") && s != "general" {
		f.day = true
		return f
	}
	f.unit = strings.TrimRight(literal.String(), " ")
	return f
}

// shortest is a number as people typed it: with the 15 digits that a
// spreadsheet program shows at most.
func shortest(x float64) string {
	if y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64); err == nil {
		x = y
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Days of a workbook are numbers: days since the end of 1899, or the start of
// 1904 (ECMA-376 part 1, 18.17.4.1). Only those of these years are taken.
const firstYear, lastYear = 1900, 2199

// DayOf is the day that a number is, without its time.
func DayOf(x float64, from1904 bool) (string, bool) {
	if !(x >= 61 && x < 150_000) { // before March 1900 programs disagree
		return "", false
	}
	start := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if from1904 {
		start = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	day := start.AddDate(0, 0, int(x))
	return day.Format(time.DateOnly), day.Year() >= firstYear && day.Year() <= lastYear
}
