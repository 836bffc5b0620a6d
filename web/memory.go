package web

import (
	"slices"
	"sync"
)

// memory keeps what was begun by key, the newest most of them: whoever asks
// again gets what already runs or is there.
type memory[K comparable, V any] struct {
	mu    sync.Mutex
	known map[K]*V
	order []K
	most  int
}

func newMemory[K comparable, V any](most int) memory[K, V] {
	return memory[K, V]{known: map[K]*V{}, most: most}
}

// find gives what is kept under a key, nil when nothing is.
func (m *memory[K, V]) find(key K) *V {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.known[key]
}

// begin keeps fresh under a key, unless something is kept there already: it
// gives what is, and whether that is fresh.
func (m *memory[K, V]) begin(key K, fresh *V) (kept *V, isFresh bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if known, ok := m.known[key]; ok {
		return known, false
	}
	m.known[key] = fresh
	m.order = append(m.order, key)
	if len(m.order) > m.most {
		delete(m.known, m.order[0])
		m.order = m.order[1:]
	}
	return fresh, true
}

// forget drops a key, so that it may begin again.
func (m *memory[K, V]) forget(key K) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.known, key)
	m.order = slices.DeleteFunc(m.order, func(k K) bool { return k == key })
}
