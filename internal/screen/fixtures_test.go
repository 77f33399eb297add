package screen

import (
	"math"
	"slices"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
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

// squares stand for a code, of that many modules a side and 4 of quiet around.
func squares(n int) (rows []string) {
	dark := func(x, y int) bool { return min(x, y, n-1-x, n-1-y) >= 0 && max(x, n-1-x, y, n-1-y)%2 == 0 }
	for y := -4; y < n+4; y += 2 {
		row := ""
		for x := -4; x < n+4; x++ {
			row += map[[2]bool]string{{true, true}: "█", {true, false}: "▀", {false, true}: "▄",
				{false, false}: " "}[[2]bool{dark(x, y), dark(x, y+1)}]
		}
		rows = append(rows, row)
	}
	return rows
}

// savedPractice is a practice engine's record, saved on a card of its own.
func savedPractice(_ *session.Snapshot, v *view.View) {
	v.Bike, v.Practice = "practice engine", &view.Practice{Running: true, Names: []string{"1-2", "3-4", "2-3"}}
	*v = view.Update(*v, view.SavedRecord{What: "a record of practice engine",
		See: `evendraw history --bike "practice-engine 2026-11-29 10-20-30"`})
}

// autoIdle is a practice engine that a virtual mechanic has levelled, with an idle speed that is not known.
func autoIdle(s *session.Snapshot, v *view.View) {
	level(s, v)
	s.Tune.Idle.RPM = 1053
	v.Practice = &view.Practice{Running: true, Auto: true, Names: []string{"1-2", "3-4", "2-3", view.StopName}}
}

// zeroed is what a zero pass has learned of the sensors.
func zeroed(s *session.Snapshot) {
	s.Zero = session.ZeroState{Zeroed: true}
	s.Config = session.Config{Ambient: 101.3, AmbientFrom: session.FromZeroPass, Zeroed: true,
		Setup: sensor.Setup{Offsets: []pressure.KPa{0.4, -0.3, 0.7, 0.1}}}
}

// noZero is an engine that stands, before the sensors are zeroed.
func noZero(s *session.Snapshot, v *view.View) {
	still(s, v)
	s.Zero, s.Config = session.ZeroState{}, session.Config{Ambient: 101.3}
}

// passing lets half a minute pass in which the differences shrink to those of the snapshot, from so many times as much
// again.
func passing(v view.View, shrink float64) view.View {
	s := *v.Snap
	for i := 0; s.Reading != nil && i <= 60; i++ {
		r := *s.Reading
		r.Time += float64(i) / 2
		r.Cylinders = slices.Clone(r.Cylinders)
		for c := range r.Cylinders {
			r.Cylinders[c].Difference *= pressure.KPa(1 + shrink*float64(60-i)/60)
		}
		now := s
		now.Link.Frames, now.Link.LastTime, now.Reading = s.Link.Frames+uint64(500*i), r.Time, &r
		v = view.Update(v, view.Tick{Now: v.Now, Snap: &now})
	}
	v.Snap = &s
	return v
}

// settling is an engine whose speed has held for so many seconds.
func settling(seconds int) func(s *session.Snapshot, v *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		for i := range 20 * seconds {
			now := *s
			now.LastFrame = noon.Add(time.Duration(i+1-20*seconds) * time.Second / 20)
			*v = view.Update(*v, view.Tick{Now: now.LastFrame, Snap: &now})
		}
		v.Now, v.Snap = noon, s
	}
}

// still is the rig with the engine off.
func still(s *session.Snapshot, v *view.View) {
	s.Reading.Span.Cycle, s.Reading.RPM = false, math.NaN()
	s.Heat, s.Counts = heat.State{}, [8]uint16{839, 833, 841, 836} // of the sensors' data sheet, and their zero errors
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
		r := s.Reading
		r.Advice = advice.Advice{Kind: advice.Fault, Cylinder: 3, Why: why}
		if c := &r.Cylinders[2]; why == advice.WhyShowsLess {
			c.Draw, c.Difference, r.Spread = 15, -7.4, 10.5
		}
	}
}

// stands is an engine that has not been started yet at the levelling.
func stands(s *session.Snapshot, v *view.View) {
	noZero(s, v)
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
	v.LinkNote = "no board found: none shows at a USB port. Plug the board in with a data cable (many leads only " +
		"charge). Still not found? In another terminal window type this exactly as it stands: \"sudo usermod -aG " +
		"dialout $USER\". Then log out of the computer and in again."
	keys("r")(s, v)
}
