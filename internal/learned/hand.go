package learned

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
	// UsualReach is how long it takes from the word to a movement that is seen, s.
	UsualReach = 3.5
	// usualAnswer is the same where the hand is at the screw.
	usualAnswer = 1.5
	// TurnPace is the pace of a hand until it is seen, turns a second.
	TurnPace = 1.0 / 8
	// NutSeconds is how long a lock nut takes at a screw that is reached; nutMargin and answerMargin are how many times
	// as long as those before it may take. Chosen.
	NutSeconds              = 2.0
	nutMargin, answerMargin = 1.3, 1.5
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
	Pace       float64 // turns a second, told to turn slowly
	Quickest   float64 // that it may have had, turns a second; 0 before one was seen
	// Mean times in seconds: from the word to a movement that is seen, of a screw that has to be reached
	// first, and of the one that the hand is at; from naming a lock nut to its step.
	reach, answer, nut meanTime
}

// NewHand begins with the hand that a card tells of, or with one that was seen to stop; without a Lag
// it is unknown.
func NewHand(known Hand) Hand {
	if known.stops > 0 {
		return known
	}
	h := Hand{Lag: handLag, RunOn: handRunOn, ll: lagDoubt * lagDoubt, rr: runOnDoubt * runOnDoubt, Pace: TurnPace}
	if known.Lag > 0 {
		h.Lag, h.RunOn = known.Lag, known.RunOn
		h.ll, h.rr = cardLagDoubt*cardLagDoubt, cardRunOnDoubt*cardRunOnDoubt
	}
	return h
}

// Learned reports whether the hand was seen to stop often enough to be worth keeping.
func (h *Hand) Learned() bool { return h.stops >= knownStops && h.Lag > 0 && h.RunOn >= 0 }

// Overrun returns how far the hand turns after the word to stop at a pace in turns a second, and
// the standard deviation of that, in turns.
func (h *Hand) Overrun(pace float64) (turns, sd float64) {
	variance := pace*pace*(h.ll+lagJitter*lagJitter) + 2*pace*h.lr + h.rr + runOnJitter*runOnJitter
	return max(pace*h.Lag+h.RunOn, 0), math.Sqrt(variance)
}

// Observe learns from a stop: the hand turned on by so many turns, known to sd.
func (h *Hand) Observe(pace, turns, sd float64) {
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

// ObservePace learns from a pace that was seen, turns a second; most is what it may have been at its quickest.
func (h *Hand) ObservePace(pace, most float64) {
	h.Quickest = max(h.Quickest, most)
	if pace > 0 {
		h.Pace *= math.Pow(min(max(pace/h.Pace, 0.25), 4), paceShare)
	}
}

// ObserveReach learns how long it took from the word to a movement that was seen; at says that the hand was at
// the screw.
func (h *Hand) ObserveReach(s float64, at bool) {
	switch {
	case s > 2*UsualReach: // it was away
	case at:
		h.answer.push(s)
	default:
		h.reach.push(s)
	}
}

// NutTime is how long a lock nut is waited for, s; the hand is at its screw.
func (h *Hand) NutTime() float64 {
	return max(answerMargin*h.answer.or(usualAnswer)+NutSeconds, nutMargin*h.nut.mean)
}

// ObserveNut learns how long it took from naming a lock nut to its step, s.
func (h *Hand) ObserveNut(s float64) { h.nut.push(s) }

// AnswerTime is how long it takes from the word to a movement of the screw that the hand is at, s.
func (h *Hand) AnswerTime() float64 { return h.answer.or(usualAnswer) }

// LagSpread is the standard deviation of Lag, s.
func (h *Hand) LagSpread() float64 { return math.Sqrt(h.ll) }

// ReachTime is how long it takes at most from the word to a movement.
func (h *Hand) ReachTime() float64 { return h.reach.or(UsualReach) }

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
