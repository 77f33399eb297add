package practice

import (
	"context"
	"math"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/session"
)

// Habits of the virtual mechanic, who is calm and turns as told; times in seconds of
// the engine's time.
const (
	settleTime = 0.5 // before the zero pass
	glance     = 0.5 // between looks at the advice
	patience   = 12  // until a check that is still asked for is done again
	nutTime    = 1.5 // to tighten a lock nut
	traceTime  = 8.0 // to trace the hoses, the engine off
	handSpeed  = 0.5 // turns a second
	slowSpeed  = 1.0 / 8
	leastSpeed = slowSpeed / 2
)

// Mechanic turns the screws of the practice engine as the advice says.
type Mechanic struct {
	p    *Bike
	sess *session.Session

	now, look float64
	acted     advice.Advice // the turn that the hand is at
	left      float64       // turns still to make, clockwise positive
	speed     float64       // turns a second
	jobs      []job         // what is done before the next look
	asked     advice.Why    // check that was done, and is not to be done again before until
	until     float64
	loose     map[int]bool // screws whose lock nuts are open
}

// job is something that is done at a time.
type job struct {
	at float64
	do func()
}

// NewMechanic returns a mechanic for a bike whose advice comes from the session.
func NewMechanic(p *Bike, sess *session.Session) *Mechanic {
	return &Mechanic{p: p, sess: sess, loose: map[int]bool{}}
}

// Step does what is due; done is true when the bank is level and nothing is left to do.
func (m *Mechanic) Step() (done bool) {
	snap := m.sess.Snapshot()
	now := snap.Link.LastTime
	m.move(now - m.now)
	m.now = now
	for len(m.jobs) > 0 {
		if now < m.jobs[0].at {
			return false
		}
		m.jobs[0].do()
		m.jobs = m.jobs[1:]
	}
	if snap.Reading == nil || now < m.look {
		return false
	}
	m.look = now + glance
	return m.act(&snap.Reading.Advice)
}

// move turns what the hand makes in that time.
func (m *Mechanic) move(seconds float64) {
	step := math.Copysign(min(m.speed*seconds, math.Abs(m.left)), m.left)
	if step == 0 || !(seconds > 0) {
		return
	}
	m.left -= step
	if m.acted.Part == advice.ThrottleStop {
		m.p.Engine.TurnStop(step)
		return
	}
	m.p.Engine.Turn(m.acted.Screw, step)
}

// act does what an advice says.
func (m *Mechanic) act(a *advice.Advice) (done bool) {
	switch a.Kind {
	case advice.Turn, advice.Reverse:
		m.turn(a)
		return false
	}
	m.left, m.acted = 0, advice.Advice{}
	switch {
	case a.Kind == advice.Done:
		m.tighten(0)
		return len(m.jobs) == 0
	case a.Why == advice.WhyHoses:
		m.trace()
	case a.Why == m.asked && m.now < m.until:
	case a.Why == advice.WhyBlip:
		m.p.Engine.Blip()
		m.asked, m.until = a.Why, m.now+patience
	case a.Why == advice.WhyNuts:
		m.tighten(nutTime)
		m.asked, m.until = a.Why, m.now+patience
	case a.Why == advice.WhyHot:
		m.p.Engine.Stop()
	case a.Why == advice.WhyNoCycle && !m.p.Engine.Truth().Running:
		m.p.Engine.Start()
	}
	return false
}

// turn turns a screw, or the throttle stop, as told. A hand that moves goes on.
func (m *Mechanic) turn(a *advice.Advice) {
	if m.left != 0 && a.Screw == m.acted.Screw && a.Direction == m.acted.Direction {
		switch {
		case !math.IsInf(m.left, 0):
		case a.Why == advice.WhySlower:
			m.speed = max(m.speed/2, leastSpeed)
		case a.Why == advice.WhyFaster:
			m.speed = min(m.speed*2, handSpeed)
		}
		return
	}
	if a.Part == advice.ThrottleStop && m.acted.Part == advice.ThrottleStop && m.now < m.until {
		return // made: the speed takes its time
	}
	if a.Screw != m.acted.Screw || m.acted.Kind == "" {
		m.p.taken++
	}
	m.acted, m.asked, m.until = *a, "", m.now+patience
	m.left, m.speed = a.Turns, handSpeed
	if math.IsNaN(a.Turns) {
		m.left, m.speed = math.Inf(1), slowSpeed
	}
	if a.Direction == advice.Anticlockwise {
		m.left = -m.left
	}
	if a.Screw >= 0 {
		m.loose[a.Screw] = true
	}
}

// tighten closes the lock nuts of all screws that were turned, one after the other.
func (m *Mechanic) tighten(seconds float64) {
	at := m.now
	for s := range m.p.Bank.Screws {
		if m.loose[s] {
			at += seconds
			m.jobs = append(m.jobs, job{at, func() { m.p.Engine.LockNut(s) }})
			delete(m.loose, s)
		}
	}
}

// trace puts the hoses right, the engine off.
func (m *Mechanic) trace() {
	m.p.Engine.Stop()
	m.jobs = append(m.jobs, job{m.now + traceTime, func() {
		m.p.Engine.MendHoses()
		m.p.Engine.Start()
	}})
}

// Watch runs the mechanic until the bank is level or ctx ends; it then calls
// level.
func (m *Mechanic) Watch(ctx context.Context, level func()) {
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if m.Step() {
				level()
				return
			}
		}
	}
}
