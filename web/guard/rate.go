package guard

import (
	"sync"
	"time"
)

// rates lets each key do perSecond things a second, and burst at once.
type rates struct {
	mu        sync.Mutex
	perSecond float64
	burst     float64
	buckets   map[string]bucket
}

type bucket struct {
	left float64
	at   time.Time
}

const mostBuckets = 4096

func newRates(perSecond, burst float64) *rates {
	return &rates{perSecond: perSecond, burst: burst, buckets: map[string]bucket{}}
}

// allow takes one thing from the key's bucket.
func (r *rates) allow(key string, now time.Time) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	b, ok := r.buckets[key]
	if !ok {
		r.makeRoom(now)
		b = bucket{r.burst, now}
	}
	b.left = min(r.burst, b.left+now.Sub(b.at).Seconds()*r.perSecond)
	b.at = now
	allowed := b.left >= 1
	if allowed {
		b.left--
	}
	r.buckets[key] = b
	return allowed
}

// makeRoom forgets buckets that are full again.
func (r *rates) makeRoom(now time.Time) {
	if len(r.buckets) < mostBuckets {
		return
	}
	for key, b := range r.buckets {
		if b.left+now.Sub(b.at).Seconds()*r.perSecond >= r.burst {
			delete(r.buckets, key)
		}
	}
	if len(r.buckets) >= mostBuckets {
		clear(r.buckets)
	}
}
