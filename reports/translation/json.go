package translation

import (
	"bytes"
	"encoding/json"
)

// JSON says the texts of a JSON value, its keys apart; what is none stays as it is.
func (l *Language) JSON(text []byte) []byte {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var v any
	if d.Decode(&v) != nil {
		return text
	}
	out, err := json.Marshal(l.values(v))
	if err != nil {
		return text
	}
	return append(out, '\n')
}

func (l *Language) values(v any) any {
	switch v := v.(type) {
	case string:
		return l.Text(v)
	case []any:
		for i := range v {
			v[i] = l.values(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = l.values(v[k])
		}
	}
	return v
}
