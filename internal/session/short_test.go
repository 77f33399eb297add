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
			const every = 3000 // frames
			records, none, cycles, held, trials, unknown := 0, 0, 0, 0, 0, 0
			worst, wide := 0.0, 0.0
			for seed := uint64(1); seed <= effort.Of[uint64](1, 6); seed++ {
				e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true}
				c.change(&e)
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
					part := rec.Part(at, at+c.ms)
					sum, _ := analysed(t, &part, session.Config{Bank: &e.Bank, Ambient: engine.DefaultAmbient,
						Zeroed: true, MatchUncertainty: matched})
					records++
					cycles += sum.Cycles
					if sum.Cycles == 0 {
						none++
						continue
					}
					for i, cyl := range sum.Cylinders(&e.Bank)[1:] {
						trials++
						off, u := math.Abs(float64(cyl.Difference)-truth[i+1]/n), float64(cyl.Uncertainty)
						switch {
						case u != u:
							unknown++
						case off <= u:
							held++
							wide += u
						default:
							wide += u
						}
						worst = max(worst, off)
					}
				}
			}
			t.Logf("%d of %d recordings have no cycle, %d cycles; %d of %d intervals hold, %d unknown; worst %.2f "+
				"kPa off, mean interval %.2f", none, records, cycles, held, trials-unknown, unknown, worst,
				wide/float64(trials-unknown))
			if none > 0 || held*100 < c.held*(trials-unknown) {
				t.Errorf("%d without a cycle, %d of %d hold", none, held, trials-unknown)
			}
		})
	}
}
