package session_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/sensor"
)

// A zero pass asked for before the board has sent anything is taken when it does.
func TestZeroAskedForTooSoon(t *testing.T) {
	t.Parallel()
	p := newPractice(engine.Config{Bank: bank.Default(4), Seed: 1})
	if p.chain.StartZero() {
		t.Fatal("a pass has begun without a frame")
	}
	if z := p.chain.ZeroState(); z.Running {
		t.Fatalf("a pass runs without a frame: %+v", z)
	}
	p.run(t, 0.5, nil)
	if z := p.chain.ZeroState(); !z.Running {
		t.Fatalf("frames come, and no pass runs: %+v", z)
	}
	p.run(t, sensor.ZeroSeconds, nil)
	if z := p.chain.ZeroState(); z.Running || z.Err != nil || z.Result == nil || !z.Zeroed {
		t.Fatalf("zero pass: %+v", z)
	}
}

// One that was asked for too soon, and ended before it began, is not taken later.
func TestZeroTakenBack(t *testing.T) {
	t.Parallel()
	p := newPractice(engine.Config{Bank: bank.Default(4), Seed: 1})
	p.chain.StartZero()
	p.chain.EndZero()
	p.run(t, 0.5, nil)
	if z := p.chain.ZeroState(); z.Running || z.Result != nil {
		t.Fatalf("a pass runs that was ended: %+v", z)
	}
}
