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

// held counts how often what is told of short recordings holds.
type held struct {
	records, none, cycles int
	holds, told, unknown  int // differences
	worst, wide           float64
}

// push counts what one recording tells, against the true differences of its engine.
func (h *held) push(sum *session.Summary, b *bank.Bank, truth [8]float64) {
	h.records++
	h.cycles += sum.Cycles
	if sum.Cycles == 0 {
		h.none++
		return
	}
	for i, cyl := range sum.Cylinders(b)[1:] {
		off, u := math.Abs(float64(cyl.Difference)-truth[i+1]), float64(cyl.Uncertainty)
		h.worst = max(h.worst, off)
		if math.IsNaN(u) {
			h.unknown++
			continue
		}
		h.told++
		h.wide += u
		if off <= u {
			h.holds++
		}
	}
}

// truthOf adds up the true differences of an engine's cycles; the mean is told at the end.
func truthOf(e *engine.Engine, cylinders int) (mean func() [8]float64) {
	sum, n := [8]float64{}, 0.0
	e.OnCycle(func(cy engine.Cycle) {
		n++
		for i := range cylinders {
			sum[i] += float64(cy.Draw[i] - cy.Draw[0])
		}
	})
	return func() (mean [8]float64) {
		for i := range sum {
			mean[i] = sum[i] / n
		}
		return mean
	}
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
			var h held
			for seed := uint64(1); seed <= effort.Of[uint64](1, 6); seed++ {
				e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true}
				c.change(&e)
				eng := engine.New(e)
				truth := truthOf(eng, e.Bank.Cylinders)
				rec := fakeboard.FromEngine(eng, effort.Of(20., 60.), nil)
				for at := every; at+every < len(rec.Frames); at += every {
					part := rec.Part(at, at+c.ms)
					sum, _ := analysed(t, &part, session.Config{Bank: &e.Bank, Ambient: engine.DefaultAmbient,
						Zeroed: true, MatchUncertainty: matched})
					h.push(sum, &e.Bank, truth())
				}
			}
			t.Logf("%d of %d recordings have no cycle, %d cycles; %d of %d intervals hold, %d unknown; worst %.2f "+
				"kPa off, mean interval %.2f", h.none, h.records, h.cycles, h.holds, h.told, h.unknown, h.worst,
				h.wide/float64(h.told))
			if h.none > 0 || h.holds*100 < c.held*h.told {
				t.Errorf("%d without a cycle, %d of %d hold", h.none, h.holds, h.told)
			}
		})
	}
}
