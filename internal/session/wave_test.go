package session_test

import (
	"context"
	"io"
	"math"
	"testing"
	"testing/synctest"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/session"
)

// The snapshot's wave is the cycle that the reading is of: its mean and its
// extremes are those of the cycle's own figures, by other ways of reckoning.
func TestSnapshotCarriesTheCycle(t *testing.T) {
	t.Parallel()
	synctest.Test(t, snapshotCarriesTheCycle) // no time passes while the engine computes
}

func snapshotCarriesTheCycle(t *testing.T) {
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four, Running: true, Seed: 4})
	s := session.New(session.Config{Bank: &four, Ambient: 101.3}, session.Options{Until: 12})
	if s.Snapshot().Wave != nil {
		t.Error("a wave before the first frame")
	}
	if err := s.Run(context.Background(), e); err != nil {
		t.Fatal(err)
	}
	snap := s.Snapshot()
	w, span := snap.Wave, &snap.Reading.Span
	if w == nil || w.N != 4 {
		t.Fatalf("wave %+v of %+v", w, snap.Reading)
	}
	for c := range w.N {
		sum, least := 0.0, math.Inf(1)
		for i, v := range w.Live[c] {
			sum += float64(v) / session.WavePoints
			least = min(least, float64(v))
			if d := math.Abs(float64(w.Mean[c][i] - v)); d > 15 {
				t.Errorf("cylinder %d point %d: the mean is %.1f kPa from the last cycle", c+1, i, d)
			}
		}
		if math.Abs(sum-float64(span.Mean[c])) > 0.5 || math.Abs(least-float64(span.Lowest[c])) > 2 {
			t.Errorf("cylinder %d: wave of mean %.2f and least %.2f, the cycle's are %.2f and %.2f", c+1, sum, least,
				span.Mean[c], span.Lowest[c])
		}
	}
	if snap.Counts[0] == 0 || snap.Counts[4] != 0 {
		t.Errorf("counts %v", snap.Counts)
	}
}

// Another bike's settings come into force at once, and the old bike's journal is
// gone.
func TestRenew(t *testing.T) {
	t.Parallel()
	twin, four := bank.Default(2), bank.Default(4)
	chosen := &four
	e := engine.New(engine.Config{Bank: four, Running: true})
	s := session.New(session.Config{BankOf: func(*frame.Announcement) session.Config {
		return session.Config{Bank: chosen, Ambient: 101.3, Zeroed: true}
	}}, session.Options{})
	if err := s.Renew(func() {}); err != nil {
		t.Errorf("before a board: %v", err)
	}
	feed := func(seconds float64) {
		end := e.Truth().TimeS + seconds
		if err := s.Run(context.Background(), readerFunc(func(p []byte) (int, error) {
			if e.Truth().TimeS >= end {
				return 0, io.EOF
			}
			return e.Read(p)
		})); err != nil {
			t.Fatal(err)
		}
	}
	feed(8)
	if snap := s.Snapshot(); len(snap.Reading.Cylinders) != 4 || snap.Journal.Idling < 5 {
		t.Fatalf("%+v", snap)
	}
	if err := s.Renew(func() { chosen = &twin }); err != nil {
		t.Fatal(err)
	}
	if snap := s.Snapshot(); snap.Reading != nil || snap.Journal.Idling != 0 || snap.Bank.Cylinders != 2 {
		t.Errorf("%+v", snap)
	}
	feed(3)
	if snap := s.Snapshot(); len(snap.Reading.Cylinders) != 2 {
		t.Errorf("%d cylinders", len(snap.Reading.Cylinders))
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }
