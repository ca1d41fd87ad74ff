package translation

import "sync"

// mostSaid is how many units are remembered; pages repeat theirs.
const mostSaid = 20_000

// A memory keeps what was said. The zero memory is empty.
type memory struct {
	mu   sync.RWMutex
	said map[string]telling
}

func (m *memory) get(unit string) (telling, bool) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	t, ok := m.said[unit]
	return t, ok
}

func (m *memory) put(unit string, t telling) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.said == nil || len(m.said) >= mostSaid {
		m.said = map[string]telling{}
	}
	m.said[unit] = t
}
