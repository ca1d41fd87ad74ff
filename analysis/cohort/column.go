package cohort

import (
	"encoding/binary"
	"fmt"
)

// A Column is one number, day or truth of each order. In a cache it stands as
// plain bytes, little-endian and of fixed size: a codec that goes from number to
// number takes five times as long for a hundred thousand orders.
type Column[T ~int16 | ~int32 | ~float64 | ~bool] []T

// MarshalBinary writes the column for a cache; nothing for none.
func (c Column[T]) MarshalBinary() ([]byte, error) {
	return binary.Append(nil, binary.LittleEndian, []T(c))
}

// UnmarshalBinary reads what MarshalBinary wrote; a column of no order is nil.
func (c *Column[T]) UnmarshalBinary(text []byte) error {
	var one T
	size := binary.Size(one)
	if len(text)%size != 0 {
		return fmt.Errorf("%d bytes are no column of %d bytes each", len(text), size)
	}
	if *c = nil; len(text) == 0 {
		return nil
	}
	*c = make(Column[T], len(text)/size)
	_, err := binary.Decode(text, binary.LittleEndian, []T(*c))
	return err
}
