package screen

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

func wave() *session.Wave {
	w := &session.Wave{N: 4}
	for c, place := range []float64{0, 180, 540, 360} {
		w.DipAt[c] = place / 720
		for i := range session.WavePoints {
			x := math.Mod(float64(i)/session.WavePoints-w.DipAt[c]+1.5, 1) - 0.5
			w.Mean[c][i] = float32(95 - 25*math.Max(x, 0)*0 - 65*math.Exp(-x*x*40))
			w.Live[c][i] = w.Mean[c][i]
			if c == 2 {
				w.Live[c][i] += float32(20 * math.Exp(-(x-0.1)*(x-0.1)*80))
			}
		}
	}
	return w
}

// squares stand for a code, of that many modules a side.
func squares(n int) (rows [][]bool) {
	for y := range n {
		rows = append(rows, make([]bool, n))
		for x := range n {
			rows[y][x] = max(x, n-1-x, y, n-1-y)%2 == 0
		}
	}
	return rows
}

// savedPractice is a practice engine's record, saved on a card of its own.
func savedPractice(_ *session.Snapshot, v *view.View) {
	v.Bike = "practice engine"
	*v = view.Update(*v, view.SavedRecord{Name: "2026-11-29T102030Z.level",
		See: `evendraw history --bike "practice-engine 2026-11-29 10-20-30"`})
}

// autoIdle is a practice engine that a virtual mechanic has levelled, with an idle speed that is not known.
func autoIdle(s *session.Snapshot, v *view.View) {
	level(s, v)
	s.Tune.Idle.RPM = 1053
	v.Practice = &view.Practice{Running: true, Auto: true, Names: []string{"1-2", "3-4", "2-3", view.StopName}}
}

// still is the rig with the engine off.
func still(s *session.Snapshot, v *view.View) {
	s.Reading.Span.Cycle, s.Reading.RPM = false, math.NaN()
	s.Zero.Zeroed = false
	s.Heat = heat.State{}
	r, nan := s.Reading, pressure.KPa(math.NaN())
	r.Spread, r.Cycles = nan, 0
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		c.State, c.Draw, c.Difference, c.Uncertainty = cycle.NoPulse, 0, nan, nan
	}
}

// level makes the bank level.
func level(s *session.Snapshot, _ *view.View) {
	s.Reading.Spread = 0.3
	for i, d := range []pressure.KPa{0, 0.2, -0.1, 0.1} {
		s.Reading.Cylinders[i].Draw, s.Reading.Cylinders[i].Difference = 24.1+d, d
	}
}

// levelAnd is level with another change.
func levelAnd(change func(*session.Snapshot, *view.View)) func(*session.Snapshot, *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		level(s, v)
		change(s, v)
	}
}

// autoHot is the same, left idling for too long.
func autoHot(s *session.Snapshot, v *view.View) {
	autoIdle(s, v)
	s.Heat.Run(168, 1)
}

// ill is a cylinder that no synchronising screw mends.
func ill(why advice.Why) func(*session.Snapshot, *view.View) {
	return func(s *session.Snapshot, _ *view.View) {
		s.Reading.Advice = advice.Advice{Kind: advice.Fault, Cylinder: 3, Why: why}
	}
}

// stands is an engine that has not been started yet at the levelling.
func stands(s *session.Snapshot, v *view.View) {
	still(s, v)
	s.Reading.Advice = advice.Advice{Kind: advice.Wait, Why: advice.WhyNoCycle}
}

// bare shows a board without a program.
func bare(b view.BareBoard) func(*session.Snapshot, *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		*s = session.Snapshot{Phase: session.Waiting}
		v.Bare = b
	}
}

// noBoard is the page of the board where none is found, with what to do.
func noBoard(s *session.Snapshot, v *view.View) {
	*s = session.Snapshot{Phase: session.Waiting}
	v.LinkNote = "no board found: there is no USB serial port. Plug the board in with a data cable (many leads only " +
		"charge). Your user must be in the group of the port, mostly dialout."
	keys("r")(s, v)
}
