package session_test

import (
	"bytes"
	"context"
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// analysed reads a recording as a file is, and sums it up.
func analysed(t *testing.T, rec *fakeboard.Recording, cfg session.Config) (*session.Summary, []balance.Reading) {
	t.Helper()
	var all []balance.Reading
	sum := session.NewSummary(func() pressure.KPa { return engine.DefaultAmbient })
	s := session.New(cfg, session.Options{OnReading: func(r *balance.Reading, _ *session.Chain) {
		sum.Push(r)
		all = append(all, *r)
	}})
	if err := s.RunRecording(context.Background(), open(t, bytes.NewReader(rec.Bytes()))); err != nil {
		t.Fatal(err)
	}
	sum.Finish()
	return sum, all
}

// A recording of half a second is told with its uncertainty, which holds the mean of ever so many such cycles; but
// of a misfire that did not come in it nothing is known.
func TestShortRecordings(t *testing.T) {
	for row, c := range []struct {
		name   string
		ms     int
		held   int // of 100, at least
		change func(e *engine.Config)
	}{
		{"calm", 500, 93, func(*engine.Config) {}},
		{"calm, 1.4 s", 1400, 93, func(*engine.Config) {}},
		{"lumpy", 500, 93, func(e *engine.Config) { e.Lumpy = true }},
		{"lumpy, 1 s", 1000, 93, func(e *engine.Config) { e.Lumpy = true }},
		{"lumpy, 1.4 s", 1400, 93, func(e *engine.Config) { e.Lumpy = true }},
		{"twin", 500, 93, func(e *engine.Config) { e.Bank = bank.Default(2) }},
		{"misfires", 700, 75, func(e *engine.Config) { e.Defects = []engine.Defect{1: {Misfire: 0.125}} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 7)
			var all shortRecordings
			for seed := uint64(1); seed <= effort.Of[uint64](1, 3); seed++ {
				e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true}
				c.change(&e)
				all.run(t, e, c.ms)
			}
			known := all.trials - all.unknown
			t.Logf("%d of %d recordings have no cycle, %d cycles; %d of %d intervals hold, %d unknown; worst %.2f "+
				"kPa off, mean interval %.2f", all.none, all.records, all.cycles, all.held, known, all.unknown,
				all.worst, all.wide/float64(known))
			if all.none > 0 || all.held*100 < c.held*known {
				t.Errorf("%d without a cycle, %d of %d hold", all.none, all.held, known)
			}
		})
	}
}

// shortRecordings counts what is told of them.
type shortRecordings struct {
	records, none, cycles int     // none are those without a cycle
	trials, held, unknown int     // differences, those whose interval holds the long-run mean, those without one
	worst, wide           float64 // kPa: how far a difference is off, sum of the intervals
}

// run adds recordings of so many ms, each three seconds, of an engine.
func (all *shortRecordings) run(t *testing.T, e engine.Config, ms int) {
	const every = 3000 // frames
	truth, n := [8]float64{}, 0.0
	eng := engine.New(e)
	eng.OnCycle(func(cy engine.Cycle) {
		n++
		for i := range e.Bank.Cylinders {
			truth[i] += float64(cy.Draw[i] - cy.Draw[0])
		}
	})
	rec := fakeboard.FromEngine(eng, effort.Of(20., 60.), nil)
	for at := every; at+every < len(rec.Frames); at += every {
		part := rec.Part(at, at+ms)
		sum, _ := analysed(t, &part, session.Config{Bank: &e.Bank, Ambient: engine.DefaultAmbient, Zeroed: true,
			MatchUncertainty: matched})
		all.records++
		all.cycles += sum.Cycles
		if sum.Cycles == 0 {
			all.none++
			continue
		}
		for i, cyl := range sum.Cylinders(&e.Bank)[1:] {
			all.trials++
			off, u := math.Abs(float64(cyl.Difference)-truth[i+1]/n), float64(cyl.Uncertainty)
			all.worst = max(all.worst, off)
			if u != u {
				all.unknown++
				continue
			}
			all.wide += u
			if off <= u {
				all.held++
			}
		}
	}
}
