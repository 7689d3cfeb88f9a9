package record

import "testing"

// BenchmarkPut is what the tick itself pays.
func BenchmarkPut(b *testing.B) {
	q := NewQueue(DefaultPlaces)
	k := newRig(b).next()
	b.ReportAllocs()
	for b.Loop() {
		k.put(q)
		q.pop()
	}
}
