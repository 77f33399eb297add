package balance

import "math"

// What is assumed of a user's hand before it is known. Chosen, but for handLag, which holds the
// quarter of a second that a reading is late (derived: half a cycle, and the filter).
const (
	// After the word to stop a hand turns on for handLag, and then by handRunOn, which may be
	// lagDoubt and runOnDoubt off (standard deviations).
	handLag, lagDoubt     = 0.85, 0.35 // s
	handRunOn, runOnDoubt = 0.025, 0.03
	// lagJitter and runOnJitter are by how much they differ from stop to stop.
	lagJitter, runOnJitter = 0.12, 0.015
	// handDrift is what a hand's lag may change from one stop to the next, as a share of its doubt.
	handDrift = 0.15
	// cardLagDoubt and cardRunOnDoubt take the place of lagDoubt and runOnDoubt where the card tells of
	// a hand: it may be another's. knownStops are the stops from which a hand is worth keeping.
	cardLagDoubt, cardRunOnDoubt = 0.25, 0.025
	knownStops                   = 2
	// usualReach is how long it takes from the word to a movement that is seen, s.
	usualReach = 3.5
	// usualAnswer is the same where the hand is at the screw.
	usualAnswer = 1.5
	// turnPace is the pace of a hand until it is seen, turns a second.
	turnPace = 1.0 / 8
	// paceShare is what one look counts in the mean pace.
	paceShare = 0.4
)

// Hand is what is known of a user's hand, learned from its stops: after the word to stop it turns
// on for Lag seconds at its pace, and then by RunOn turns.
type Hand struct {
	Lag, RunOn float64
	stops      int // it was learned from
	// ll, lr and rr are their covariance.
	ll, lr, rr float64
	pace       float64 // turns a second, told to turn slowly
	quickest   float64 // that it may have had, turns a second; 0 before one was seen
	// Mean times in seconds: from the word to a movement that is seen, of a screw that has to be reached
	// first, and of the one that the hand is at; from naming a lock nut to its step.
	reach, answer, nut meanTime
}

// newHand begins with the hand that a card tells of, or with one that was seen to stop; without a Lag
// it is unknown.
func newHand(known Hand) Hand {
	if known.stops > 0 {
		return known
	}
	h := Hand{Lag: handLag, RunOn: handRunOn, ll: lagDoubt * lagDoubt, rr: runOnDoubt * runOnDoubt, pace: turnPace}
	if known.Lag > 0 {
		h.Lag, h.RunOn = known.Lag, known.RunOn
		h.ll, h.rr = cardLagDoubt*cardLagDoubt, cardRunOnDoubt*cardRunOnDoubt
	}
	return h
}

// Learned reports whether the hand was seen to stop often enough to be worth keeping.
func (h *Hand) Learned() bool { return h.stops >= knownStops && h.Lag > 0 && h.RunOn >= 0 }

// overrun returns how far the hand turns after the word to stop at a pace in turns a second, and
// the standard deviation of that, in turns.
func (h *Hand) overrun(pace float64) (turns, sd float64) {
	variance := pace*pace*(h.ll+lagJitter*lagJitter) + 2*pace*h.lr + h.rr + runOnJitter*runOnJitter
	return max(pace*h.Lag+h.RunOn, 0), math.Sqrt(variance)
}

// observe learns from a stop: the hand turned on by so many turns, known to sd.
func (h *Hand) observe(pace, turns, sd float64) {
	h.stops++
	h.ll += handDrift * handDrift * lagDoubt * lagDoubt
	h.rr += handDrift * handDrift * runOnDoubt * runOnDoubt
	noise := sd*sd + pace*pace*lagJitter*lagJitter + runOnJitter*runOnJitter
	cl, cr := pace*h.ll+h.lr, pace*h.lr+h.rr // covariance of lag and run-on with the turns
	s := pace*cl + cr + noise
	d := turns - pace*h.Lag - h.RunOn
	h.Lag += cl / s * d
	h.RunOn += cr / s * d
	h.ll -= cl * cl / s
	h.lr -= cl * cr / s
	h.rr -= cr * cr / s
}

// observePace learns from a pace that was seen, turns a second; most is what it may have been at its quickest.
func (h *Hand) observePace(pace, most float64) {
	h.quickest = max(h.quickest, most)
	if pace > 0 {
		h.pace *= math.Pow(min(max(pace/h.pace, 0.25), 4), paceShare)
	}
}

// observeReach learns how long it took from the word to a movement that was seen; at says that the hand was at
// the screw.
func (h *Hand) observeReach(s float64, at bool) {
	switch {
	case s > 2*usualReach: // it was away
	case at:
		h.answer.push(s)
	default:
		h.reach.push(s)
	}
}

// nutTime is how long a lock nut is waited for, s; the hand is at its screw.
func (h *Hand) nutTime() float64 {
	return max(answerMargin*h.answer.or(usualAnswer)+nutSeconds, nutMargin*h.nut.mean)
}

// reachTime is how long it takes at most from the word to a movement.
func (h *Hand) reachTime() float64 { return h.reach.or(usualReach) }

// meanTime is the mean of times that were seen, s.
type meanTime struct{ mean, n float64 }

func (m *meanTime) push(s float64) {
	m.n++
	m.mean += (s - m.mean) / m.n
}

// or returns the mean, or what is usual where none was seen.
func (m *meanTime) or(usual float64) float64 {
	if m.n == 0 {
		return usual
	}
	return m.mean
}
