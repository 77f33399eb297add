package engine

import (
	"testing"

	"evendraw/internal/bank"
)

func TestMending(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 1, Running: true, Hoses: []Hose{1: {On: 3}, 2: {On: 2}}, Defects: []Defect{{LeakMM2: 2}}})
	felt := func() (p [4]float64) {
		for i := range p {
			p[i] = e.felt(i)
		}
		return p
	}
	before := felt()
	e.SwapHoses(2, 3)
	if now := felt(); now[1] != before[2] || now[2] != before[1] || now[0] != before[0] {
		t.Errorf("hoses feel %v after the exchange, %v before", now, before)
	}
	e.SwapHoses(2, 3)
	e.MendHoses()
	if now := felt(); now[1] != before[2] || now[2] != before[1] {
		t.Errorf("hoses feel %v when put right, %v before", now, before)
	}
	e.SwapHoses(0, 9)
	run := func() float64 {
		buf := make([]byte, 50_000)
		for range 4 {
			e.Read(buf)
		}
		return float64(e.Truth().Cylinders[0].Draw)
	}
	leaking := run()
	e.MendLeak(1)
	e.MendLeak(9)
	if mended := run(); mended < leaking+2 {
		t.Errorf("cylinder 1 draws %.1f kPa with its leak mended, %.1f with it", mended, leaking)
	}
}
