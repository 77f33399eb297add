// Package heat is the budget of idling of the whole job, whatever step is at hand: a clock that runs
// forward while the engine turns and back while it stands. At NearShare of the limit it is said, at
// the limit the engine is to stand until the clock is back at cooledShare, and leaves room for a run.
//
// It measures no temperature: limit and paces are chosen, and said to be. Begin with Clock.Pass.
package heat

// Constants of the clock.
const (
	// DefaultLimitS is how long an engine without a fan may idle, s. Invented: the bike's
	// manual may give a figure.
	DefaultLimitS = 300.0
	// NearShare of the limit is where the clock begins to warn. Chosen.
	NearShare = 0.8
	// cooledShare of the limit is where a cool-down is over, or where leastRunS are left before the limit, s. Chosen:
	// leastRunS are enough for a start and one pilot screw.
	cooledShare = 0.5
	leastRunS   = 120.0
	// CoolPace and FanPace are how many seconds of the clock a second of standing takes off,
	// without and with a fan. Chosen: an engine that stands in still air cools slower than it
	// heats.
	CoolPace, FanPace = 0.5, 1.0
	// ColdPace is how many a second counts while the engine is seen to grow warm: it has heat
	// to take up first. Chosen; not 0, as one that overheats grows warmer too.
	ColdPace = 0.5
	// usualRPM is the speed up to which a second counts as one; above it counts as the speed
	// does, as the fuel burnt. Chosen: above any idle.
	usualRPM = 1500.0
)

// State is where the clock stands.
type State struct {
	// Seconds is the clock, and Limit where the engine is to stand; 0 is DefaultLimitS.
	Seconds, Limit float64
	// Hot is set when the limit was reached, until the engine has cooled.
	Hot bool
	// Turning is whether the engine turned when it was seen last.
	Turning bool
	// Fan is set when the user says that a fan blows on it.
	Fan bool
}

// LimitS returns the limit in force.
func (s State) LimitS() float64 {
	if s.Limit > 0 {
		return s.Limit
	}
	return DefaultLimitS
}

// Near reports whether the limit is near, or reached.
func (s State) Near() bool { return s.Hot || s.Seconds >= NearShare*s.LimitS() }

// LeftS is how many seconds of idling are left before the limit.
func (s State) LeftS() float64 {
	if s.Hot {
		return 0
	}
	return max(s.LimitS()-s.Seconds, 0)
}

// RestedS is how many seconds of idling a cool-down gives.
func (s State) RestedS() float64 { return s.LimitS() - s.CooledAtS() }

// CooledAtS is how far the clock is to go back, s.
func (s State) CooledAtS() float64 {
	return max(min(cooledShare*s.LimitS(), s.LimitS()-leastRunS), 0)
}

// CoolS returns how long the engine must stand until it has cooled, with and without a fan.
func (s State) CoolS(fan bool) float64 {
	return max(s.Seconds-s.CooledAtS(), 0) / coolPace(fan)
}

func coolPace(fan bool) float64 {
	if fan {
		return FanPace
	}
	return CoolPace
}

// Pace is how many seconds of the clock a second of turning counts at a speed; cold tells of an
// engine that is still warming up. An unknown speed, NaN, counts as an idle's.
func Pace(rpm float64, cold bool) float64 {
	pace := 1.0
	if rpm > usualRPM {
		pace = rpm / usualRPM
	}
	if cold {
		pace *= ColdPace
	}
	return pace
}

// Run moves the clock on by so many seconds of a turning engine, each counting pace.
func (s *State) Run(seconds, pace float64) {
	s.Turning = true
	s.Seconds += pace * seconds
	s.judge()
}

// Stand moves the clock back by so many seconds of standing.
func (s *State) Stand(seconds float64) {
	s.Turning = false
	s.Seconds = max(s.Seconds-coolPace(s.Fan)*seconds, 0)
	s.judge()
}

// judge takes what the clock says into Hot.
func (s *State) judge() {
	switch {
	case s.Seconds >= s.LimitS():
		s.Hot = true
	case s.Seconds <= s.CooledAtS():
		s.Hot = false
	}
}

// Unseen moves the clock over seconds in which nobody looked while the program ran: an engine that
// turned is taken to have gone on.
func (s *State) Unseen(seconds float64) {
	if s.Turning {
		s.Run(seconds, 1)
		return
	}
	s.Stand(seconds)
}

// Away moves the clock over seconds in which the program did not run: an engine that turned is
// taken to have gone on to its limit, then to have stood.
func (s *State) Away(seconds float64) {
	if s.Turning {
		ran := min(seconds, s.LeftS())
		s.Run(ran, 1)
		seconds -= ran
	}
	s.Stand(seconds)
}
