package sumlines

import (
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The check value of CRC-32 is that of the digits 1 to 9: cbf43926 (ITU-T V.42, as
// listed in every catalogue of CRCs).
func TestSum(t *testing.T) {
	assert.Equal(t, uint32(0xcbf43926), crc32.ChecksumIEEE([]byte("123456789")))
	line, err := Line(123456789)
	require.NoError(t, err)
	assert.Equal(t, "cbf43926 123456789\n", string(line))
}

// Every change of one byte is noticed, and a line that was cut short is left out.
func TestDamage(t *testing.T) {
	var text []byte
	for _, v := range []any{"a", map[string]int{"b": 1}, 3} {
		line, err := Line(v)
		require.NoError(t, err)
		text = append(text, line...)
	}
	whole, err := Read(text)
	require.NoError(t, err)
	require.Len(t, whole, 3)
	for i := range text {
		for _, flip := range []byte{1, 0x20, 0x80} {
			bad := append([]byte{}, text...)
			bad[i] ^= flip
			got, err := Read(bad)
			if err == nil && i == len(text)-1 { // the end of the last line: as if it were being written
				assert.Len(t, got, 2)
				continue
			}
			var d *Damaged
			require.ErrorAs(t, err, &d, "byte %d", i)
			assert.LessOrEqual(t, d.Line, 3)
		}
	}
	for cut := range text {
		got, err := Read(text[:cut])
		require.NoError(t, err)
		assert.Less(t, len(got), 3)
	}
	none, err := Read(nil)
	require.NoError(t, err)
	assert.Empty(t, none)
}
