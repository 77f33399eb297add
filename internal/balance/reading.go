package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/faults"
	"evendraw/internal/heat"
	"evendraw/internal/hoses"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Cylinder is what is known of one cylinder. Unknown figures are NaN.
type Cylinder struct {
	Cylinder int // from 1
	Channel  int
	// Draw is the cycle-mean vacuum: ambient minus absolute.
	Draw pressure.KPa
	// Difference is Draw minus the reference's.
	Difference pressure.KPa
	// Uncertainty is the half-width of the 95 % interval of Difference. Difference is of the cycles that no misfire
	// spoils; the interval allows for those, too, and holds the mean of all.
	Uncertainty pressure.KPa
	// GainUncertainty is how far Draw may be off by its sensor's gain.
	GainUncertainty pressure.KPa
	// Opening is the butterfly's effective area over the reference's, from the refill of the runners, and
	// OpeningUncertainty the half-width of its 95 % interval.
	Opening, OpeningUncertainty float64
	// Ripple is the peak-to-peak swing in the last cycle.
	Ripple pressure.KPa
	State  cycle.State
	// Doubt is why the cylinder looks ill in a way that no synchronising screw mends, "" while it doesn't.
	Doubt advice.Why
	// DrawsLess is set where it was found to draw less than its opening asks for, and not merely otherwise.
	DrawsLess bool
}

// Reading is what the cycles say now.
type Reading struct {
	Time float64 // seconds since the start of the stream
	RPM  float64 // NaN when unknown
	// Steady is set when the speed has settled, OffIdle when it is far out of the idle range.
	Steady, OffIdle bool
	Reference       int // cylinder
	// Spread is the largest minus the smallest draw of those that LeftOut doesn't name, and SpreadUncertainty
	// the half-width of its 95 % interval; NaN when unknown.
	Spread, SpreadUncertainty pressure.KPa
	// GainUncertainty is the part of SpreadUncertainty that the sensors' gains make: by so much a bank that reads level
	// may be out, 19 times in 20. Of one that reads far apart it is no more.
	GainUncertainty pressure.KPa
	// SupplyBand is that of Config: the share of a difference, or of Spread, that its interval allows for.
	SupplyBand float64
	// Cycles is how many cycles the figures average over.
	Cycles    int
	Cylinders []Cylinder
	// Heat is the budget of idling. It is filled in by package session, as the budget is the whole job's.
	Heat heat.State
	// Hoses is what the order of the pulses since the last start says.
	Hoses hoses.Order
	// HosesAside is set when the user has said that the hoses are right, whatever Hoses says.
	HosesAside bool
	Advice     advice.Advice
	// Loose are the screws, as bits by index, that were seen to move and whose lock nuts are open, or which have none.
	Loose uint
	// NutsUnsaid are those whose lock nuts are taken as tight by their own small step, or by the time, and not by the
	// user's word.
	NutsUnsaid uint
	// Halts are what the levelling was stopped for so far.
	Halts Halts
	// Span is the one cycle, or stretch without a cycle, that came last.
	Span cycle.Span
}

// Sound reports whether a channel in that state measures its cylinder: a weak pulse still has its mean.
func Sound(s cycle.State) bool { return faults.Sound(s) }

// SoundWord is Sound of a state as records spell it.
func SoundWord(state string) bool { return Sound(cycle.State(state)) }

// LeftOut returns the cylinders, from 1, that Spread leaves out: their channels don't measure them.
func (r *Reading) LeftOut() (cylinders []int) {
	for _, c := range r.Cylinders {
		if !Sound(c.State) {
			cylinders = append(cylinders, c.Cylinder)
		}
	}
	return cylinders
}

// SetGainBand tells how far each sensor's gain may be off from now on, as in Config.
func (b *Balance) SetGainBand(band [cycle.MaxCylinders]float64) { b.cfg.GainBand = band }

// widen adds to the intervals of the draws what the sensors' gains, and a supply that they share, may be off by. The
// advice goes without: what no more cycles make surer would keep it from ever being done.
func (r *Reading) widen(band *[cycle.MaxCylinders]float64, supply float64) {
	r.SupplyBand = supply
	var halves []float64
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		if c.Draw > 0 {
			c.GainUncertainty = pressure.KPa(band[i]) * c.Draw
		}
		if Sound(c.State) {
			halves = append(halves, float64(c.GainUncertainty))
		}
	}
	for i := range r.Cylinders {
		if c := &r.Cylinders[i]; i != r.Reference-1 {
			c.Uncertainty = Together(c.Uncertainty, c.GainUncertainty, r.Cylinders[r.Reference-1].GainUncertainty,
				pressure.KPa(supply)*c.Difference)
		}
	}
	r.GainUncertainty = pressure.KPa(series.SpreadOfErrors(halves))
	r.SpreadUncertainty = Together(r.SpreadUncertainty, r.GainUncertainty, pressure.KPa(supply)*r.Spread)
}

// Together is the half-width of the interval of a sum whose parts have those, and nothing in common.
func Together(halves ...pressure.KPa) pressure.KPa {
	sum := pressure.KPa(0)
	for _, h := range halves {
		sum += h * h
	}
	return pressure.KPa(math.Sqrt(float64(sum)))
}

// waitFor returns the advice to wait.
func waitFor(why advice.Why) advice.Advice { return advice.New(advice.Wait, advice.NoPart, why) }

// look is what the faults of cylinders are found by.
func (r *Reading) look() *faults.Look {
	l := faults.Look{Cycles: r.Cycles, Span: &r.Span}
	for c := range r.Cylinders {
		l.Draw[c] = float64(r.Cylinders[c].Draw)
		l.Opening[c], l.OpeningUncertainty[c] = r.Cylinders[c].Opening, r.Cylinders[c].OpeningUncertainty
	}
	return &l
}

// pushCycle takes a cycle's speed, and its draws where they are those of a sound one.
func (b *Balance) pushCycle(s *cycle.Span) {
	sagged := b.speedSagged(s)
	b.pushSpeed(s)
	var draw perCylinder
	for c := range s.N {
		draw[c] = float64(b.cfg.Ambient - s.Mean[c])
	}
	b.gate.faults.Push(s, b.advisor.raised(), b.steady())
	odd := b.misfires.rejects(&b.win, &draw, (*perCylinder)(&s.Opening), s.RPM())
	switch {
	case !s.Whole():
	case sagged || odd:
		b.win.noteRejected(&draw, (*perCylinder)(&s.Opening))
	default:
		b.win.push(s.End(), &draw, (*perCylinder)(&s.Opening))
	}
}
