// Package sumlines is a file of lines that are only ever added to, each with a sum
// by which a damaged one is noticed: eight hex digits of the CRC-32 (IEEE 802.3) of
// what follows a blank.
package sumlines

import (
	"bytes"
	"encoding/json"
	"fmt"
	"hash/crc32"
)

// Line is a value as a line, with its end.
func Line(v any) ([]byte, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(nil, "%08x %s\n", crc32.ChecksumIEEE(text), text), nil
}

// A Damaged line was changed after it was written.
type Damaged struct{ Line int }

func (d *Damaged) Error() string {
	return fmt.Sprintf("line %d was changed after it was written, or is damaged", d.Line)
}

// Read gives the values of all lines, as JSON. A last line without its end was cut
// short while it was written, and is left out. The error is a *Damaged.
func Read(text []byte) (values [][]byte, err error) {
	for no := 1; ; no++ {
		line, rest, whole := bytes.Cut(text, []byte("\n"))
		if !whole {
			return values, nil
		}
		sum, value, _ := bytes.Cut(line, []byte(" "))
		if string(sum) != fmt.Sprintf("%08x", crc32.ChecksumIEEE(value)) {
			return values, &Damaged{no}
		}
		values, text = append(values, value), rest
	}
}
