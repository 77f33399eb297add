package engine

import (
	"testing"

	"evendraw/internal/bank"
)

// A frame of a running four at 1000 frames a second must take less than 20 µs, a
// fiftieth of the time it stands for. "x-real-time" is how often it beats that.
func BenchmarkFourRunning(b *testing.B) {
	e := New(Config{Bank: bank.Default(4), Seed: 1, Running: true})
	p := make([]byte, e.board.frameLen())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := e.Read(p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(1e6/(float64(b.Elapsed().Nanoseconds())/float64(b.N)), "x-real-time")
}
