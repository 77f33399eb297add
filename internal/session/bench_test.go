package session_test

import (
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/session"
)

// BenchmarkChain runs a minute of a four at 1000 frames a second through all
// stages, behind short and behind long hoses.
func BenchmarkChain(b *testing.B) {
	b.Run("short hoses", func(b *testing.B) { benchmarkChain(b, nil) })
	long := engine.Hose{LagS: 0.02, DelayS: 1.5e-3}
	b.Run("long hoses", func(b *testing.B) { benchmarkChain(b, []engine.Hose{long, long, long, long}) })
}

func benchmarkChain(b *testing.B, hoses []engine.Hose) {
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four, Running: true, NoSensorErrors: true, Hoses: hoses})
	const frames = 60000
	bytes := make([]byte, 0, 24*frames+64*1024)
	buf := make([]byte, 4096)
	for len(bytes) < 24*frames {
		n, _ := e.Read(buf)
		bytes = append(bytes, buf[:n]...)
	}
	b.ReportAllocs()
	for b.Loop() {
		c := session.NewChain(session.Config{Bank: &four, Ambient: 101.3}, func(*balance.Reading) {})
		for rest := bytes; len(rest) > 0; {
			n := min(len(rest), 16<<10)
			if err := c.Feed(rest[:n]); err != nil {
				b.Fatal(err)
			}
			rest = rest[n:]
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/frames, "ns/frame")
}
