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
// and of the long run. The intervals of recordings of 40 s of the same engines hold the mean of ever so many such
// cycles, misfires and all, in at least 93 of 100: where cycles scatter in 96 to 98, where they don't in all, as what
// the method may be off by then counts most.
func TestIntervalsOnThePracticeEngine(t *testing.T) {
	for _, c := range []struct {
		name     string
		seeds    uint64  // in full
		worstKPa float64 // live, off the mean of the cycles averaged over; 0 is not looked at: misfires hide some
		recorded float64 // s to make recordings of, in full; 0 is none
	}{
		{"any", 2, 0.02, 0},
		{"calm", 2, 0.02, 230},
		{"lumpy", 2, 0.03, 230},
		{"hunting", 2, 0.02, 230},
		{"lumpy twin", 2, 0.15, 230},
		{"hoses", 2, 0.03, 0},
		{"hoses at 75 kPa", 2, 0.03, 0},
		{"hoses of 12 ms", 2, 0.03, 230},
		{"hoses of 30 ms", 2, 0.03, 0},
		{"misfire", 2, 0, 230},
		{"misfires of all", 2, 0, 230},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			recorded := c.recorded > 0
			first, seeds, seconds := uint64(0), c.seeds, max(c.recorded, 180)
			if !effort.Whole() {
				if c.name != "misfire" { // sees intervals of seven tenths of the width, where calmer ones see half
					effort.ForWhole(t, "other engines")
				}
				first, seeds, seconds = 1, 1, 110
			}
			var all intervals
			for seed := first; seed < first+seeds; seed++ {
				e := intervalEngine(c.name, seed)
				e.Alike = c.name != "any"
				all.run(e, c.name == "hunting", seconds)
			}
			all.live.judge(t, c.worstKPa, c.name != "any") // other runners have other openings at the same area
			if recorded {
				all.recorded.judge(t)
			}
		})
	}
}

// judge holds live intervals to what they promise, those of openings too where they are known.
func (l *liveIntervals) judge(t *testing.T, worstKPa float64, openings bool) {
	inside, within := 100*float64(l.inside)/float64(l.trials), 100*float64(l.within)/float64(l.trials)
	t.Logf("%d intervals of %.3f kPa: %.1f %% hold the long-run mean, %.1f %% that of their cycles; "+
		"worst %.3f kPa off; %d without", l.trials, l.width/float64(l.trials), inside, within, l.worst, l.none)
	if openings {
		t.Logf("%d of %d of openings of %.4f hold the true one", l.held, l.openings,
			l.openingWidth/float64(l.openings))
		if l.held*100 < l.openings*93 {
			t.Error("too few intervals of openings hold the true one")
		}
	}
	// The 27 intervals of a plain run are too few to hold too often.
	if inside < effort.Of(91.0, 93) || inside > effort.Of(100, 99.9) {
		t.Errorf("%.1f %% of the intervals hold the long-run mean", inside)
	}
	if worstKPa > 0 && (l.within < l.trials || l.worst > worstKPa) {
		t.Errorf("%d of %d hold the mean of their cycles, the worst is %.3f kPa off", l.within, l.trials, l.worst)
	}
}

// intervals are those of live readings, and of the recordings beside them.
type intervals struct {
	live     liveIntervals
	recorded recordedIntervals
}

// run adds those of an engine: a live one every ten seconds, recordings one after the other.
func (all *intervals) run(config engine.Config, hunting bool, seconds float64) {
	e, n := engine.New(config), config.Bank.Cylinders
	var last *balance.Reading
	recorder := recorder{next: recordedFrom}
	c := session.NewChain(session.Config{Bank: &config.Bank, Ambient: cmp.Or(config.Ambient, 101.3), Zeroed: true,
		MatchUncertainty: matched},
		func(r *balance.Reading) {
			last = r
			recorder.push(r)
		})
	var truth [][4]float64
	recorded := 0 // the first cycle of the recordings
	e.OnCycle(func(cy engine.Cycle) {
		if cy.StartS < recordedFrom {
			recorded++
		}
		var d [4]float64
		for i := range n {
			d[i] = float64(cy.Draw[i] - cy.Draw[0])
		}
		truth = append(truth, d)
	})
	var samples []sample
	buf := make([]byte, 480)
	next, hunt := 20.0, newHunt(hunting)
	for e.Truth().TimeS < seconds+1 {
		hunt.turn(e)
		n, _ := e.Read(buf)
		c.Feed(buf[:n])
		if now := e.Truth().TimeS; now >= next && now < seconds {
			next += 10
			samples = append(samples, sample{last, len(truth)})
		}
	}
	all.live.add(e, samples, truth)
	all.recorded.add(&config.Bank, recorder.sums, mean(truth[recorded:]))
}

// liveIntervals counts the live intervals that hold the true mean of all cycles, and that of the cycles they are of.
type liveIntervals struct {
	inside, within, trials int
	none                   int     // differences without one
	worst, width           float64 // kPa
	openings, held         int     // intervals of openings, and those that hold the true one
	openingWidth           float64
}

// add adds those of samples of an engine; truth are the differences of all its cycles.
func (l *liveIntervals) add(e *engine.Engine, samples []sample, truth [][4]float64) {
	long := mean(truth)
	for _, s := range samples {
		of := mean(truth[max(0, s.at-s.r.Cycles):s.at])
		for i, cyl := range s.r.Cylinders[1:] {
			l.trials++
			u := float64(cyl.Uncertainty)
			if u != u { // too few cycles that no misfire spoils
				l.trials--
				l.none++
				continue
			}
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
