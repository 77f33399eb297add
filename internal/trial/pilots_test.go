package trial

import (
	"context"
	"math"
	"testing"
)

// One bike to its end.
func TestPilots(t *testing.T) {
	t.Parallel()
	cfg := PilotConfig{Bikes: 1, Seed: 9, Workers: 1}
	all, err := RunPilots(context.Background(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	r := CountPilots(all)
	t.Logf("%+v", r)
	if r.Unfinished != 0 || r.FoundScrews < 0.75 || r.Unexplained != 0 || len(all[0].Off) != 4 {
		t.Errorf("%+v", all[0])
	}
	ended, stop := context.WithCancel(context.Background())
	stop()
	if _, err := RunPilots(ended, PilotConfig{Bikes: 0, Seed: 9}); err == nil {
		t.Error("an ended context is no error")
	}
}

func TestCountPilots(t *testing.T) {
	r := CountPilots([]PilotOutcome{
		{Done: true, Off: []float64{0.1, -0.125}, Held: []bool{true, true}, Moves: 4, Idle: 100},
		{Done: true, Off: []float64{0.1, -0.126}, Held: []bool{true, false}, Moves: 8, Idle: 300},
		{Off: []float64{0, 0}, Held: []bool{false, false}, Moves: 6, Idle: 200},
	})
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }
	if !near(r.Found, 1.0/3) || !near(r.FoundScrews, 5.0/6) || !near(r.Held, 0.5) || r.Unfinished != 1 ||
		r.Moves != 6 || r.Idle != 200 || r.Idle95 != 300 || r.Off95 != 0.126 {
		t.Errorf("%+v", r)
	}
}
