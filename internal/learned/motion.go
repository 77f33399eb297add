package learned

import "math"

// Motion follows a figure that a hand moves, and its pace: a Kalman filter for
//
//	x(t+dt) = x(t) + pace dt,   pace changing by paceDoubt √dt (standard deviation)
type Motion struct {
	X, Pace    float64 // kPa, and kPa a second
	xx, xp, pp float64 // their covariance
	begun      bool
	time       float64
}

const (
	// paceDoubt is how much the pace may change, kPa/s² in one second (standard
	// deviation). Chosen: a hand starts and stops within a few tenths of a second.
	paceDoubt = 1.5
	// paceFirst is the standard deviation of the pace before anything is seen.
	// Chosen: half a turn a second of a lively screw is 3 kPa/s.
	paceFirst = 1.0
	// oddSigmas is the most that a cycle's surprise counts for, in standard deviations of what is expected. Chosen.
	oddSigmas = 4.0
)

// Begin starts at x at rest.
func (m *Motion) Begin(t, x, variance float64) {
	*m = Motion{X: x, xx: variance, pp: paceFirst * paceFirst, begun: true, time: t}
}

// Time is that of the newest figure, s.
func (m *Motion) Time() float64 { return m.time }

// PaceSpread is the standard deviation of Pace, kPa a second.
func (m *Motion) PaceSpread() float64 { return math.Sqrt(m.pp) }

// Push takes the figure of the cycle that ended at t, with its variance.
func (m *Motion) Push(t, z, variance float64) {
	if !m.begun {
		m.Begin(t, z, variance)
		return
	}
	dt := t - m.time
	m.time = t
	m.X += m.Pace * dt
	q := paceDoubt * paceDoubt * dt
	m.xx += dt*(2*m.xp+dt*m.pp) + q*dt*dt/3
	m.xp += dt*m.pp + q*dt/2
	m.pp += q
	s := m.xx + variance
	kx, kp := m.xx/s, m.xp/s
	most := oddSigmas * math.Sqrt(s) // a misfire is no movement
	d := min(max(z-m.X, -most), most)
	m.X += kx * d
	m.Pace += kp * d
	m.pp -= kp * m.xp
	m.xp *= 1 - kx
	m.xx *= 1 - kx
}
