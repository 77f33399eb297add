package session_test

import (
	"cmp"
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

// The stated 95 % interval of a live difference holds the true mean difference of the very cycles it averages over,
// and of the long run.
func TestIntervalsOnThePracticeEngine(t *testing.T) {
	for _, c := range []struct {
		name     string
		holds    float64 // percent at least, in full
		worstKPa float64 // off the mean of the cycles averaged over
	}{
		{"any", 93, 0.02},
		{"calm", 93, 0.02},
		{"lumpy", 93, 0.03},
		{"hunting", 93, 0.02},
		{"lumpy twin", 93, 0.15},
		{"hoses", 93, 0.03},
		{"hoses at 75 kPa", 93, 0.03},
		{"hoses of 12 ms", 93, 0.03},
		{"hoses of 30 ms", 93, 0.03},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if c.name != "any" {
				effort.ForWhole(t, "other engines")
			}
			first, seeds, seconds := effort.Of[uint64](7, 0), effort.Of[uint64](1, 4), effort.Of(90.0, 260)
			if c.name != "any" && c.name != "hunting" {
				seeds = min(seeds, 2) // the others differ less from seed to seed
			}
			var all liveIntervals
			for seed := first; seed < first+seeds; seed++ {
				e := intervalEngine(c.name, seed)
				e.Alike = c.name != "any"
				all.run(e, c.name == "hunting", seconds)
			}
			inside, within := 100*float64(all.inside)/float64(all.trials), 100*float64(all.within)/float64(all.trials)
			t.Logf("%d intervals of %.3f kPa: %.1f %% hold the long-run mean, %.1f %% that of their cycles; "+
				"worst %.3f kPa off", all.trials, all.width/float64(all.trials), inside, within, all.worst)
			// Other runners have other openings at the same area.
			if c.name != "any" {
				t.Logf("%d of %d of openings of %.4f hold the true one", all.held, all.openings,
					all.openingWidth/float64(all.openings))
				if all.held*100 < all.openings*93 {
					t.Error("too few intervals of openings hold the true one")
				}
			}
			// The 24 intervals of a plain run are too few to hold too often.
			if inside < effort.Of(91, c.holds) || inside > effort.Of(100, 99.9) {
				t.Errorf("%.1f %% of the intervals hold the long-run mean", inside)
			}
			if all.within < all.trials || all.worst > c.worstKPa {
				t.Errorf("%d of %d hold the mean of their cycles, the worst is %.3f kPa off", all.within, all.trials,
					all.worst)
			}
		})
	}
}

// liveIntervals counts the live intervals that hold the true mean of all cycles, and that of the cycles they are of.
type liveIntervals struct {
	inside, within, trials int
	worst, width           float64 // kPa
	openings, held         int     // intervals of openings, and those that hold the true one
	openingWidth           float64
}

// run adds those of an engine, one every ten seconds.
func (l *liveIntervals) run(config engine.Config, hunting bool, seconds float64) {
	e, n := engine.New(config), config.Bank.Cylinders
	var last *balance.Reading
	c := session.NewChain(session.Config{Bank: &config.Bank, Ambient: cmp.Or(config.Ambient, 101.3), Zeroed: true,
		MatchUncertainty: matched},
		func(r *balance.Reading) { last = r })
	var truth [][4]float64
	e.OnCycle(func(cy engine.Cycle) {
		var d [4]float64
		for i := range n {
			d[i] = float64(cy.Draw[i] - cy.Draw[0])
		}
		truth = append(truth, d)
	})
	var samples []sample
	buf := make([]byte, 480)
	next, hunt := 20.0, newHunt(hunting)
	for e.Truth().TimeS < seconds {
		hunt.turn(e)
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
		for i, cyl := range s.r.Cylinders[1:] {
			l.trials++
			u := float64(cyl.Uncertainty)
			l.width += u
			if math.Abs(float64(cyl.Difference)-long[i+1]) <= u {
				l.inside++
			}
			off := math.Abs(float64(cyl.Difference) - of[i+1])
			l.worst = max(l.worst, off)
			if off <= u {
				l.within++
			}
			if o := cyl.Opening; o == o {
				l.openings++
				l.openingWidth += cyl.OpeningUncertainty
				if math.Abs(o-e.Truth().Cylinders[i+1].Opening) <= cyl.OpeningUncertainty {
					l.held++
				}
			}
		}
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
