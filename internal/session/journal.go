package session

import (
	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
)

// Step is one turn that was advised, and that something moved upon.
type Step struct {
	Time   float64 // s
	Advice advice.Advice
	// Spread is that of the reading that led to the advice; of the first step that of Before: one figure for the bank
	// as it was found.
	Spread pressure.KPa
}

// Journal keeps what a record needs to know of a run: how the bank stood
// before, what was advised, and how long the engine ran.
type Journal struct {
	// Before is the first reading good enough to advise on, nil until then: one of a speed that has settled, where
	// nothing moves before that.
	Before *balance.Reading
	Steps  []Step
	// Idling is how long the engine has run, in seconds.
	Idling  float64
	told    advice.Advice
	pending *Step // advised, not yet in Steps
	seen    bool  // something has moved upon it
	settled bool  // Before is of a speed that has settled, or something has moved since
}

// settledCycles is on how many cycles of a settled speed the bank as it was found must rest. Chosen: about a second.
const settledCycles = 8

// maxSteps bounds the journal. Chosen: far more turns than a morning has.
const maxSteps = 1000

// push adds a reading.
func (j *Journal) push(r *balance.Reading) {
	if r.Span.Cycle {
		j.Idling += r.Span.Period
	}
	a := r.Advice
	underWay := a.Why == advice.WhyKeepOn || a.Why == advice.WhySlower
	stop := a.Kind == advice.Stop && a.Why != advice.WhyNoAnswer
	switch ready := a.ToTurn(advice.SyncScrew) || a.Kind == advice.Done || a.Why == advice.WhyBlip; {
	case j.settled:
	case underWay || stop || a.Kind == advice.Reverse:
		j.settled = true
	case !ready:
	default:
		if settled := r.Steady && r.Cycles >= settledCycles; settled || j.Before == nil {
			j.Before, j.settled = r, settled
		}
	}
	went := j.told.Why == advice.WhyKeepOn || j.told.Why == advice.WhySlower
	more := !underWay && a.ToTurn(advice.SyncScrew) && j.seen && (went || !a.SameTurns(&j.told)) // another amount
	news := a.Kind != j.told.Kind || a.Screw != j.told.Screw || a.Direction != j.told.Direction || more
	j.told = a
	if !news {
		j.seen = j.seen || underWay
		return
	}
	right := a.Why == advice.WhyNuts && j.pending != nil && a.Screw == j.pending.Advice.Screw // it has come right
	moved := j.seen || stop || a.Kind == advice.Reverse || right
	if moved && j.pending != nil && len(j.Steps) < maxSteps {
		if len(j.Steps) == 0 && j.Before != nil {
			j.pending.Spread = j.Before.Spread
		}
		j.Steps = append(j.Steps, *j.pending)
	}
	j.pending, j.seen = nil, underWay
	if a.ToTurn(advice.SyncScrew) {
		j.pending = &Step{r.Time, a, r.Spread}
	}
}

// Usable reports whether a reading can stand in a record: cycles, and every
// cylinder's channel sound.
func Usable(r *balance.Reading) bool {
	if r == nil || !r.Span.Cycle || r.Cycles == 0 {
		return false
	}
	for _, c := range r.Cylinders {
		if c.State != cycle.OK {
			return false
		}
	}
	return true
}

// AtIdle reports whether a snapshot's reading can stand in a record as that of the idle: the speed neither moves nor
// is raised.
func AtIdle(s *Snapshot) bool {
	r := s.Reading
	return Usable(r) && r.Steady && !r.OffIdle && r.RPM <= s.MostIdleRPM()
}

// usualMostIdleRPM is the speed above which an engine of no known idle does not idle.
// Chosen: a share of the usual raised speed that is above most idles.
const usualMostIdleRPM = 0.6 * raised.DefaultRPM

// MostIdleRPM is the speed above which the engine does not idle, in rpm: above the usual where the idle that is wanted
// is, as far above that as a bank is still levelled.
func (s *Snapshot) MostIdleRPM() float64 {
	return max(usualMostIdleRPM, s.Config.Idle.HighRPM*(1+balance.IdleRoom))
}
