package session_test

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/session"
)

// matched are the gains of sensors without errors, as a match pass without any tells of them: intervals are then
// those of the cycles alone.
var matched = []float64{1e-9, 1e-9, 1e-9, 1e-9}

// sample is a reading, and how many cycles had then come.
type sample struct {
	r  *balance.Reading
	at int
}

// The stated 95 % interval of a difference holds the true mean difference of the
// very cycles it averages over, and of the long run.
func TestIntervalsOnThePracticeEngine(t *testing.T) {
	t.Parallel()
	// The plain run has few intervals: of these one or two must not hold the mean.
	first, seeds, seconds := effort.Of[uint64](7, 0), effort.Of[uint64](1, 4), effort.Of(90.0, 260)
	inside, within, trials := 0, 0, 0
	worst := 0.0
	for seed := first; seed < first+seeds; seed++ {
		four := bank.Default(4)
		e := engine.New(engine.Config{Bank: four, Seed: seed, Running: true, NoSensorErrors: true})
		var last *balance.Reading
		c := session.NewChain(session.Config{Bank: &four, Ambient: 101.3, Zeroed: true, MatchUncertainty: matched},
			func(r *balance.Reading) { last = r })
		var truth [][4]float64
		e.OnCycle(func(cy engine.Cycle) {
			var d [4]float64
			for i := range d {
				d[i] = float64(cy.Draw[i] - cy.Draw[0])
			}
			truth = append(truth, d)
		})
		var samples []sample
		buf := make([]byte, 480)
		for next := 20.0; e.Truth().TimeS < seconds; {
			n, _ := e.Read(buf)
			c.Feed(buf[:n])
			if now := e.Truth().TimeS; now >= next {
				next += 10
				samples = append(samples, sample{last, len(truth)})
			}
		}
		long := mean(truth)
		for _, s := range samples {
			of := mean(truth[max(0, s.at-s.r.Cycles):s.at])
			for i := 1; i < 4; i++ {
				cyl := s.r.Cylinders[i]
				trials++
				u := float64(cyl.Uncertainty)
				if math.Abs(float64(cyl.Difference)-long[i]) <= u {
					inside++
				}
				off := math.Abs(float64(cyl.Difference) - of[i])
				worst = max(worst, off)
				if off <= u {
					within++
				}
			}
		}
	}
	t.Logf("of %d intervals %.1f %% hold the long-run mean, %.1f %% that of their own cycles; worst %.3f kPa off",
		trials, 100*float64(inside)/float64(trials), 100*float64(within)/float64(trials), worst)
	if share := 100 * float64(inside) / float64(trials); share < 91 || share > 98.5 {
		t.Errorf("%.1f %% of the intervals hold the long-run mean, want about 95", share)
	}
	if within < trials || worst > 0.02 {
		t.Errorf("%d of %d hold the mean of their own cycles, the worst is %.3f kPa off", within, trials, worst)
	}
}

func mean(v [][4]float64) (m [4]float64) {
	for _, d := range v {
		for i := range m {
			m[i] += d[i] / float64(len(v))
		}
	}
	return m
}

// How often the change detector cries wolf on a steady idle.
func TestFalseAlarms(t *testing.T) {
	t.Parallel()
	seconds := effort.Of(50.0, 600)
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four, Seed: 11, Running: true})
	restarts, last := 0, 0
	cfg := session.Config{Bank: &four, Ambient: 101.3, Zeroed: true, MatchUncertainty: matched}
	c := session.NewChain(cfg, func(r *balance.Reading) {
		if r.Time > 10 && r.Cycles < last-5 {
			restarts++
		}
		last = r.Cycles
	})
	buf := make([]byte, 4800)
	for e.Truth().TimeS < seconds {
		n, _ := e.Read(buf)
		c.Feed(buf[:n])
	}
	hourly := float64(restarts) * 3600 / seconds
	t.Logf("%d restarts of the averaging in %.0f s of steady idle: %.0f an hour", restarts, seconds, hourly)
	if hourly > 60 {
		t.Errorf("%.0f false alarms an hour", hourly)
	}
}
