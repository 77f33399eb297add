package engine

import (
	"testing"

	"evendraw/internal/bank"
)

func TestMendHoses(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 1, Running: true, Hoses: []Hose{1: {On: 3}, 2: {On: 2}}})
	felt := func() (p [4]float64) {
		for i := range p {
			p[i] = e.hosePressure(i)
		}
		return p
	}
	before := felt()
	e.MendHoses()
	if now := felt(); now[1] != before[2] || now[2] != before[1] {
		t.Errorf("hoses feel %v when put right, %v before", now, before)
	}
}
