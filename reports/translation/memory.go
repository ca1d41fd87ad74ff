package translation

import "sync"

// What is remembered: units, since pages repeat theirs, and the pages shown last, since a
// stored page is shown again and again.
const (
	mostUnits = 20_000
	mostBytes = 16 << 20
)

// A memory keeps what was said, up to a size; then it begins anew.
type memory[K comparable, V any] struct {
	mu   sync.RWMutex
	said map[K]V
	left int
	room int
	size func(V) int
}

func newMemory[K comparable, V any](room int, size func(V) int) *memory[K, V] {
	return &memory[K, V]{room: room, size: size}
}

func (m *memory[K, V]) get(key K) (V, bool) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	v, ok := m.said[key]
	return v, ok
}

func (m *memory[K, V]) put(key K, v V) {
	m.mu.Lock()
	defer m.mu.Unlock()
	need := m.size(v)
	if m.left < need {
		m.said, m.left = map[K]V{}, m.room
	}
	if need <= m.left {
		m.said[key], m.left = v, m.left-need
	}
}

// A saidPage is a page in the language, and what of it stayed untold.
type saidPage struct {
	page   []byte
	untold []string
}
