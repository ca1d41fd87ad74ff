package cohort

import (
	"encoding/binary"
	"fmt"
	"math"
)

// A Column is one number, day or truth of each order. In a cache it stands as
// plain bytes, little-endian and of fixed size: a codec that goes from number to
// number takes several times as long for a hundred thousand orders, and package
// binary's own loops, which ask an interface for each, twice as long.
type Column[T int16 | int32 | Day | float64 | bool] []T

// MarshalBinary writes the column for a cache; nothing for none.
func (c Column[T]) MarshalBinary() ([]byte, error) {
	text := make([]byte, 0, len(c)*c.size())
	switch c := any([]T(c)).(type) {
	case []int16:
		for _, x := range c {
			text = binary.LittleEndian.AppendUint16(text, uint16(x))
		}
	case []int32:
		for _, x := range c {
			text = binary.LittleEndian.AppendUint32(text, uint32(x))
		}
	case []Day:
		for _, x := range c {
			text = binary.LittleEndian.AppendUint32(text, uint32(x))
		}
	case []float64:
		for _, x := range c {
			text = binary.LittleEndian.AppendUint64(text, math.Float64bits(x))
		}
	case []bool:
		return binary.Append(text, binary.LittleEndian, c)
	}
	return text, nil
}

// UnmarshalBinary reads what MarshalBinary wrote; a column of no order is nil.
func (c *Column[T]) UnmarshalBinary(text []byte) error {
	size := c.size()
	if len(text)%size != 0 {
		return fmt.Errorf("%d bytes are no column of %d bytes each", len(text), size)
	}
	if *c = nil; len(text) == 0 {
		return nil
	}
	*c = make(Column[T], len(text)/size)
	switch c := any([]T(*c)).(type) {
	case []int16:
		for i := range c {
			c[i] = int16(binary.LittleEndian.Uint16(text[2*i:]))
		}
	case []int32:
		for i := range c {
			c[i] = int32(binary.LittleEndian.Uint32(text[4*i:]))
		}
	case []Day:
		for i := range c {
			c[i] = Day(binary.LittleEndian.Uint32(text[4*i:]))
		}
	case []float64:
		for i := range c {
			c[i] = math.Float64frombits(binary.LittleEndian.Uint64(text[8*i:]))
		}
	case []bool:
		_, err := binary.Decode(text, binary.LittleEndian, c)
		return err
	}
	return nil
}

// size is that of one number in bytes.
func (Column[T]) size() int {
	var one T
	return binary.Size(one)
}
