package heat

import (
	"math"
	"testing"
)

// The whole way of a clock of 300 s: each row is what happens, and where the clock is then.
func TestClock(t *testing.T) {
	var s State
	for _, row := range []struct {
		what      string
		do        func()
		seconds   float64
		near, hot bool
	}{
		{"idling to just before 80 %", func() { s.Run(239, 1) }, 239, false, false},
		{"at 80 %", func() { s.Run(1, 1) }, 240, true, false},
		{"cold, half as fast", func() { s.Run(10, Pace(1000, true)) }, 245, true, false},
		{"raised, twice as fast", func() { s.Run(10, Pace(3000, false)) }, 265, true, false},
		{"an unknown speed is an idle's", func() { s.Run(10, Pace(math.NaN(), false)) }, 275, true, false},
		{"at the limit", func() { s.Run(25, 1) }, 300, true, true},
		{"on behind it", func() { s.Run(60, 1) }, 360, true, true},
		{"unseen, it goes on", func() { s.Unseen(10) }, 370, true, true},
		{"standing without a fan", func() { s.Stand(100) }, 320, true, true},
		{"with a fan", func() { s.Fan = true; s.Stand(100) }, 220, true, true},
		{"started too early", func() { s.Run(10, 1) }, 230, true, true},
		{"cooled", func() { s.Stand(80) }, 150, false, false},
		{"left with the engine on, for an hour", func() { s.Run(1, 1); s.Away(3600) }, 0, false, false},
		{"left with the engine on, for a minute", func() { s.Run(100, 1); s.Away(60) }, 160, false, false},
		{"left standing", func() { s.Away(60) }, 100, false, false},
	} {
		if row.do(); s.Seconds != row.seconds || s.Near() != row.near || s.Hot != row.hot {
			t.Errorf("%s: %+v near %v, want %v %v %v", row.what, s, s.Near(), row.seconds, row.near, row.hot)
		}
	}
}

// A short limit is cooled down further, so that a run fits before it again.
func TestACooldownGivesARun(t *testing.T) {
	for limit, want := range map[float64]float64{90: 90, 120: 120, 180: 120, 240: 120, 300: 150, 600: 300} {
		s := State{Seconds: limit, Limit: limit, Hot: true}
		if s.Stand(s.CoolS(false) + 0.001); s.Hot || math.Abs(s.LeftS()-want) > 0.01 || s.RestedS() != want {
			t.Errorf("limit %v: hot %v, %v left, %v told, want %v", limit, s.Hot, s.LeftS(), s.RestedS(), want)
		}
	}
}

// The countdown said is the time that it takes.
func TestCountdown(t *testing.T) {
	for _, fan := range []bool{false, true} {
		s := State{Seconds: 200, Limit: 200, Hot: true, Fan: fan}
		left := s.CoolS(fan)
		if s.Stand(left - 0.1); !s.Hot {
			t.Errorf("fan %v: cool before %v s", fan, left)
		}
		if s.Stand(0.1001); s.Hot {
			t.Errorf("fan %v: not cool after %v s", fan, left)
		}
	}
}
