package practice

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
)

// Mechanic turns the screws of a practice engine as the advice says.
type Mechanic struct {
	*Hand
	bank  *bank.Bank
	now   float64
	look  float64       // when the next look is due
	acted advice.Advice // the turn that the hand is at
	seen  advice.Advice // the newest
	asked advice.Why    // check that was done, and is not to be done again before until
	nut   int           // whose nut it was
	until float64
	paced float64 // when the pace was last changed
	made  float64 // when the hand last moved
	parts float64 // turns that are left of an amount that is made in parts
	pause float64 // before the next of them
	// pressed is until when the key that says that a nut is tight is not pressed again.
	pressed float64
	errands errands // what is done before the next look
	// GoOn goes on past a fault that was looked at, unless Heeds is set, and tells that a lock nut is tight;
	// nil where nobody can say so.
	GoOn  func()
	Heeds bool
	care  *Care // what a careful one does, nil for one that goes on past faults
}

// NewMechanic returns a mechanic with that hand, at that bank.
func NewMechanic(h *Hand, b *bank.Bank) *Mechanic { return &Mechanic{Hand: h, bank: b} }

// Step moves the hand, and looks at the advice, nil for none yet, when a look is due; done is true when the bank
// is level and nothing is left to do. Now is the engine's time, s.
func (m *Mechanic) Step(now float64, a *advice.Advice) (done bool) {
	if a != nil {
		m.seen = *a
	}
	wasAway := m.Away()
	if m.now = now; m.care != nil {
		m.care.heat()
	}
	m.Pass(now)
	if m.Away() {
		return false
	}
	if wasAway {
		m.look = now + m.habits.Glance
	}
	if m.care != nil && m.care.over {
		return true
	}
	if a == nil || now < m.look {
		return false
	}
	m.look = now + m.habits.Glance
	return m.Look(a)
}

// Pass lets the time come to now: the hand moves, and what else is under way is done.
func (m *Mechanic) Pass(now float64) {
	m.now = now
	m.Move(now)
	m.errands.pass(now)
}

// GaveUp reports whether a careful mechanic levels no further, because a fault comes again and again.
func (m *Mechanic) GaveUp() bool { return m.care != nil && m.care.gaveUp != "" }

// Away reports whether the mechanic is at something else than looking.
func (m *Mechanic) Away() bool { return m.errands.busy() }

// Look does what an advice says; done is true when the bank is level and nothing is left to do.
func (m *Mechanic) Look(a *advice.Advice) (done bool) {
	done = m.act(a)
	m.errands.pass(m.now) // the first begins at once
	return done
}

func (m *Mechanic) act(a *advice.Advice) (done bool) {
	if m.care != nil && (m.care.warm() || !m.care.Ready()) {
		return false
	}
	switch a.Kind {
	case advice.Done:
		m.letGo(m.now)
		if m.tightenAll() {
			return false
		}
		return m.care == nil || m.care.end()
	case advice.Turn, advice.Reverse:
		m.turn(a)
		return false
	case advice.Wait:
		if a.Why == advice.WhyNoCycle && !m.engine.Truth().Running {
			m.engine.Start()
		}
	}
	m.letGo(m.now)
	m.acted = advice.Advice{}
	switch {
	case m.care != nil && m.care.heed(a):
	case a.Why == advice.WhyHoses:
		m.traceHoses()
	case a.Why == advice.WhyHot:
		m.cool()
	case looksPast(a.Why) && m.GoOn != nil && !m.Heeds:
		m.errands.add(m.react()+pastS, m.GoOn)
	case a.Why == advice.WhyNuts && m.GoOn != nil && a.Screw != advice.NoScrew && !m.loose[a.Screw]:
		m.sayTight(a) // it was not seen to be
	case a.Why != advice.WhyBlip && a.Why != advice.WhyNuts || a.Why == m.asked && a.Screw == m.nut && m.now < m.until:
	case a.Why == advice.WhyBlip:
		m.errands.add(m.react(), func() {
			m.engine.Blip()
			m.at, m.toward = noScrew, noScrew
			m.checked(a)
		})
	default:
		m.errands.add(m.react(), nil)
		m.tighten(a.Screw)
		m.errands.add(0, func() { m.checked(a) })
	}
	return false
}

// pastS is how long it takes to see that there is nothing to mend, and to say so. Chosen.
const pastS = 2.0

// looksPast reports whether a mechanic levels on past a fault, or past a screw that has not answered.
func looksPast(why advice.Why) bool {
	return why == advice.WhyMisfires || why == advice.WhyLean || why == advice.WhyLeakNext || why == advice.WhyFar ||
		why == advice.WhyIdleFell || why == advice.WhyNoAnswer || why == advice.WhyShowsLess ||
		why == advice.WhyOtherScrew || why == advice.WhyOneSilent ||
		why == advice.WhyOneMisfires
}

// checked notes that a check was made.
func (m *Mechanic) checked(a *advice.Advice) {
	m.asked, m.nut, m.until = a.Why, a.Screw, m.now+m.habits.Patience
}

// traceHoses puts all hoses on their own ports, the engine off.
func (m *Mechanic) traceHoses() {
	m.errands.add(m.react(), m.engine.Stop)
	m.errands.add(m.habits.TraceS, func() {
		m.engine.MendHoses()
		m.engine.Start()
	})
	m.errands.add(m.habits.WarmS, nil)
}

// cool lets the engine stand until the advice no longer asks for it.
func (m *Mechanic) cool() {
	if m.engine.Truth().Running {
		m.errands.add(m.react(), m.engine.Stop)
		return
	}
	m.errands.add(m.habits.CoolS, nil)
}

// pressedS is how long who has pressed a key waits for another word before it is pressed again. Chosen.
const pressedS = 2.0

// sayTight says by the key that a lock nut is tight; then the hand goes to the screw that is said to come next.
func (m *Mechanic) sayTight(a *advice.Advice) {
	if m.now < m.pressed {
		return
	}
	m.errands.add(m.react(), func() {
		m.GoOn()
		m.pressed = m.now + pressedS
		for s := range m.bank.Screws {
			if m.bank.Screws[s].Name == a.Next {
				m.setOff(m.now, s)
			}
		}
	})
}

// tightenAll closes all lock nuts that are open, one after the other, and reports whether there are any.
func (m *Mechanic) tightenAll() bool {
	loose := m.Loose(m.bank)
	for _, screw := range loose {
		m.addNut(screw)
	}
	return len(loose) > 0
}

// tighten closes the lock nut of a screw where it is open, those of all screws for NoScrew.
func (m *Mechanic) tighten(screw int) {
	if screw == advice.NoScrew {
		m.tightenAll()
		return
	}
	if m.loose[screw] {
		m.addNut(screw)
	}
}

// addNut goes to a lock nut and tightens it, when what is under way is done.
func (m *Mechanic) addNut(screw int) {
	m.errands.addTimed(func() float64 { return m.nutTime(screw) }, func() { m.Tighten(screw) })
}

// turn turns a screw, or the throttle stop, as told. A hand that moves as told goes on, by the
// amount first told; one that has made it waits for other words.
func (m *Mechanic) turn(a *advice.Advice) {
	same := a.Part == m.acted.Part && a.Screw == m.acted.Screw && (a.Direction == m.acted.Direction ||
		a.Direction == advice.UnknownWay && a.Why == advice.WhyKeepOn)
	if m.Busy() {
		m.made = m.now
		if same && m.after == nil || m.after != nil && *a == m.acted {
			m.heedPace(a.Why)
			return
		}
	}
	if same && m.inParts(a) {
		return
	}
	if same && a.Part == advice.SyncScrew && (m.now < m.made+againS || m.care != nil) && m.heard(a) {
		return
	}
	if a.Part == advice.ThrottleStop && m.acted.Part == advice.ThrottleStop && m.now < m.until {
		return // made: the speed takes its time
	}
	screw := a.Screw
	if m.care != nil {
		m.care.named(screw)
	}
	if a.Part == advice.ThrottleStop {
		screw, m.until = throttleStop, m.now+m.habits.Patience
	}
	m.acted, m.asked = *a, ""
	m.paced, m.made = m.now, m.now
	switch {
	case a.Direction == advice.UnknownWay && a.Part == advice.SyncScrew:
		m.makeUnnamed(a)
	case math.IsNaN(a.Turns):
		m.start(m.now, screw, math.Inf(int(a.Direction.Sign())), m.off(m.habits.SlowTurnsS)) // until told to stop
	default:
		m.parts = math.Abs(a.Turns)
		m.makePart(screw, a.Direction)
	}
}

// makeUnnamed turns a screw back, or on, by what the hand knows of its last movement: all of that where no amount is
// told.
func (m *Mechanic) makeUnnamed(a *advice.Advice) {
	turns, way := a.Turns, math.Copysign(1, m.last)
	if a.Kind == advice.Reverse {
		way = -way
	}
	if math.IsNaN(turns) {
		turns = math.Abs(m.last)
	}
	if m.parts = turns; turns > 0 {
		m.makePart(a.Screw, advice.WayOf(way))
	}
}

// makePart turns a screw by what is left of an amount, or by a part of it.
func (m *Mechanic) makePart(screw int, way advice.Direction) {
	turns := m.parts
	if m.habits.Part > 0 && screw != throttleStop {
		turns, m.pause = min(turns, m.habits.Part), m.between(m.habits.LeastPause, m.habits.MostPause)
	}
	m.parts -= turns
	m.Begin(m.now, screw, way.Sign()*turns)
}

// inParts reports whether a hand that makes amounts in parts rests between two of them, or goes on by the next, the
// word being the same.
func (m *Mechanic) inParts(a *advice.Advice) bool {
	switch {
	case m.habits.Part == 0 || a.Part != advice.SyncScrew || m.Busy() || math.IsNaN(a.Turns):
		return false
	case m.now < m.made+m.pause:
		return true
	case m.parts > 0 && m.heard(a):
		m.makePart(a.Screw, a.Direction)
		return true
	}
	return false
}

// heedPace turns slower as told: once, and once more where the word stands.
func (m *Mechanic) heedPace(why advice.Why) {
	if why == m.acted.Why && m.now-m.paced < paceWordS {
		return
	}
	m.acted.Why, m.paced = why, m.now
	if why == advice.WhySlower {
		m.pace(1.0 / 2)
	}
}

// againS is how long who has made an amount waits until the same word is done again; who takes care does not, as the
// words say. Chosen.
const againS = 4.0

// heard reports whether an advice to go on turning that way says nothing new to a hand that has made its amount.
func (m *Mechanic) heard(a *advice.Advice) bool {
	all := math.IsNaN(a.Turns) && a.Direction == advice.UnknownWay // of what was turned last: an amount, too
	told := math.IsNaN(a.Turns) == math.IsNaN(m.acted.Turns) && (all || !math.IsNaN(a.Turns))
	goesOn := a.Why == advice.WhyKeepOn
	if goesOn {
		m.acted.Why = a.Why
	}
	return told && (goesOn || a.Why == m.acted.Why && (all || a.Turns == m.acted.Turns))
}
