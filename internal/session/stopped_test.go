package session

import (
	"context"
	"io"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/engine"
)

// until reads an engine until a time of its own, s.
type until struct {
	e   *engine.Engine
	end float64
}

func (u until) Read(p []byte) (int, error) {
	if u.e.Truth().TimeS >= u.end {
		return 0, io.EOF
	}
	return u.e.Read(p[:min(len(p), 480)])
}

// An engine that was stopped is not followed on in what repeats in the noise of its sensors, as this one's did.
func TestAStoppedEngineStands(t *testing.T) {
	t.Parallel()
	s, _ := engine.ScenarioNamed("unseated-linkage")
	c := s.Config(17)
	e := engine.New(c)
	stopped, turned := 0.0, 0.0
	sess := New(Config{Bank: &c.Bank, Ambient: 101.3, Reference: 3}, Options{OnReading: func(r *balance.Reading,
		_ *Chain) {
		if stopped > 0 && r.Time > stopped+3 && r.Span.Cycle {
			turned += r.Span.Period
		}
	}})
	run := func(to float64) {
		if err := sess.Run(context.Background(), until{e, to}); err != nil {
			t.Fatal(err)
		}
	}
	e.Start()
	run(12)
	e.Turn(1, 0.375)
	run(18)
	e.Turn(1, -0.375)
	run(26)
	e.Stop()
	stopped = e.Truth().TimeS
	if run(36); turned > 0.2 || sess.Snapshot().Heat.Turning {
		t.Errorf("for %.1f s from 3 s after its stop it is told to turn", turned)
	}
}
