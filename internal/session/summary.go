package session

import (
	"cmp"
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Bins of the speed's distribution: half an rpm each.
const (
	rpmPerBin = 0.5
	rpmBins   = 40000
)

// Summary gathers a whole run in memory that does not grow.
type Summary struct {
	Cycles    int
	Torn      int // cycles that are not whole: they do not count
	Reference int

	n         int
	seconds   float64
	rpm       [rpmBins]int32
	by        [cycle.MaxCylinders]cylinderSums
	hoses     hoses.Dips
	supply    pressure.KPa // share by which a supply that all sensors share may be off
	ambientOf func() pressure.KPa
	late      [unsureCycles]lateSpan // the last cycles, a ring, whose channels may yet turn out unsound
	lateCount int
}

// cylinderSums are what a Summary gathers of one cylinder.
type cylinderSums struct {
	meanSeconds float64
	mean        float64                 // pressure times seconds, cycles or not, kPa s
	states      map[cycle.State]float64 // seconds
	misfires    int
	doubt       advice.Why   // the last that was found
	gain        pressure.KPa // share by which its sensor's gain may be off
	// The rest is of cycles in which the channel was sound.
	draw, diff, ripple series.Series
	opening            series.Series
	ratio              series.Series // of it to the reference's
	dip                pressure.KPa
	lag, damping       float64 // the last that were known, 0 before
	noOpening          cycle.NoOpening
	hose               cycle.HoseKind
}

// unsureCycles is for how many cycles a channel must go on sound for them to count: a state shows when it
// has lasted. Chosen: at an idle more than a second.
const unsureCycles = 12

// lateSpan is a whole cycle that has yet to count.
type lateSpan struct {
	span      cycle.Span
	reference int
	sound     [cycle.MaxCylinders]bool // and has been since
}

// NewSummary returns an empty summary. ambient is asked for the air pressure
// that draws count from.
func NewSummary(ambient func() pressure.KPa) *Summary { return &Summary{ambientOf: ambient} }

// Push adds a reading's last span.
func (s *Summary) Push(r *balance.Reading) {
	span := &r.Span
	s.n, s.Reference = span.N, r.Reference
	s.seconds += span.Silence + span.Period
	s.supply = pressure.KPa(r.SupplyBand)
	for c := range span.N {
		y, cyl := &s.by[c], &r.Cylinders[c]
		if y.states == nil {
			y.states = map[cycle.State]float64{}
		}
		y.states[span.State[c]] += span.Period
		y.mean += span.Period * float64(span.Mean[c])
		y.meanSeconds += span.Period
		y.doubt = cmp.Or(cyl.Doubt, y.doubt)
		if cyl.GainUncertainty > 0 {
			y.gain = cyl.GainUncertainty / cyl.Draw
		}
		if span.Silence > 0 {
			y.states[cycle.Stale] += span.Silence
		}
	}
	if !span.Cycle {
		return
	}
	s.Cycles++
	s.rpm[min(max(int(span.RPM()/rpmPerBin), 0), rpmBins-1)]++
	s.hoses.Push(span)
	if !span.Whole() {
		s.Torn++
		return
	}
	for c := range span.N {
		if span.Misfire[c] {
			s.by[c].misfires++
		}
		if !balance.Sound(span.State[c]) {
			for i := range s.late {
				s.late[i].sound[c] = false
			}
		}
	}
	l := &s.late[s.lateCount%unsureCycles]
	if s.lateCount >= unsureCycles {
		s.count(l)
	}
	l.span, l.reference = *span, r.Reference
	for c := range span.N {
		l.sound[c] = balance.Sound(span.State[c])
	}
	s.lateCount++
}

// Finish counts the last cycles; nothing is pushed after it.
func (s *Summary) Finish() {
	for i := max(0, s.lateCount-unsureCycles); i < s.lateCount; i++ {
		s.count(&s.late[i%unsureCycles])
	}
	s.lateCount = 0
}

// count takes a cycle's figures, of the channels that are sound.
func (s *Summary) count(l *lateSpan) {
	span, ref, ambient := &l.span, l.reference-1, s.ambientOf()
	for c := range span.N {
		if !l.sound[c] {
			continue
		}
		y := &s.by[c]
		y.draw.Push(float64(ambient - span.Mean[c]))
		if l.sound[ref] {
			y.diff.Push(float64(span.Mean[ref] - span.Mean[c]))
		}
		y.ripple.Push(float64(span.Ripple(c + 1)))
		if o, other := span.Opening[c], span.Opening[ref]; o > 0 && other > 0 {
			y.opening.Push(o)
			y.ratio.Push(o / other)
		}
		y.noOpening, y.hose = span.NoOpening[c], span.Hose[c]
		if lag := span.Lag[c]; lag > 0 {
			y.lag, y.damping = lag, span.Damping[c]
		}
		if y.draw.N() == 1 || span.Lowest[c] < y.dip {
			y.dip = span.Lowest[c]
		}
	}
}

// RPM returns the speed below which the given share of the cycles lie, NaN
// without cycles.
func (s *Summary) RPM(share float64) float64 {
	want := share * float64(s.Cycles)
	seen := 0.0
	for i, n := range s.rpm {
		if n > 0 && seen+float64(n) >= want {
			return rpmPerBin * (float64(i) + (want-seen)/float64(n))
		}
		seen += float64(n)
	}
	return math.NaN()
}

// CylinderSummary is a cylinder's part of a Summary. Unknown figures are NaN.
type CylinderSummary struct {
	Cylinder, Channel int
	// Uncertainty is the half-width of the 95 % interval of Difference: of the mean of ever so many such cycles,
	// all of them, also those of misfires, while nothing is changed.
	Draw, Uncertainty, Difference, Ripple pressure.KPa
	// SoundCycles is from how many cycles the figures are: whole ones in which the channel was sound.
	SoundCycles int
	// Mean is the absolute pressure over all that was recorded, cycles or not.
	Mean pressure.KPa
	// NoOpening is the last reason for having no opening in any cycle, "" where it was known or cycles too few.
	NoOpening cycle.NoOpening
	// Hose is what the hose was last seen to be like.
	Hose cycle.HoseKind
	// Doubt is why the cylinder looked ill, "" if it didn't.
	Doubt advice.Why
	// Dip is the vacuum at the lowest pressure of any cycle.
	Dip pressure.KPa
	// Opening is the butterfly's effective area over the reference's, and
	// OpeningUncertainty the half-width of its 95 % interval.
	Opening, OpeningUncertainty float64
	// Lag is the time constant of hose and sensor, s, and Damping the share that they
	// take of the swing of the runner's pressure: Ripple and Dip are as felt behind them.
	Lag, Damping float64
	// Misfires is the number of charges that did not burn.
	Misfires int
	// States holds each state's share of the time.
	States map[cycle.State]float64
}

// Cylinders returns the cylinders' parts; b says which channel each is on.
func (s *Summary) Cylinders(b *bank.Bank) []CylinderSummary {
	out := make([]CylinderSummary, 0, s.n)
	for c := range s.n {
		y, nan := &s.by[c], pressure.KPa(math.NaN())
		cs := CylinderSummary{Cylinder: c + 1, Channel: b.Channels[c], Draw: nan, Uncertainty: nan, Difference: nan,
			Ripple: nan, Dip: nan, Opening: math.NaN(), OpeningUncertainty: math.NaN(), Lag: math.NaN(),
			Damping: math.NaN(), Misfires: y.misfires, States: map[cycle.State]float64{},
			SoundCycles: y.draw.N(), Mean: pressure.KPa(y.mean / y.meanSeconds), Doubt: y.doubt}
		if y.draw.N() > 0 {
			s.soundFigures(&cs, y)
		}
		for state, seconds := range y.states {
			cs.States[state] = seconds / s.seconds
		}
		out = append(out, cs)
	}
	return out
}

// soundFigures fills in what is known of a cylinder whose channel was sound in some cycle.
func (s *Summary) soundFigures(cs *CylinderSummary, y *cylinderSums) {
	ref := &s.by[s.Reference-1]
	cs.Draw, cs.Difference = pressure.KPa(y.draw.Mean()), pressure.KPa(y.diff.Mean())
	if cs.Uncertainty = y.diff.HalfWidth(); y != ref {
		method := methodKPa
		if y.draw.N() < startCycles {
			method = startKPa
		}
		cs.Uncertainty = balance.Together(cs.Uncertainty, method, y.gain*cs.Draw,
			ref.gain*pressure.KPa(ref.draw.Mean()), s.supply*cs.Difference)
	}
	cs.Ripple, cs.Dip = pressure.KPa(y.ripple.Mean()), s.ambientOf()-y.dip
	if cs.Hose = y.hose; y.opening.N() < leastOpenings && y.draw.N() >= openingsWait {
		cs.NoOpening = y.noOpening
	}
	if y.lag > 0 {
		cs.Lag, cs.Damping = y.lag, y.damping
	}
	if y.opening.N() < leastOpenings {
		return
	}
	if cs.Opening = y.opening.Mean() / ref.opening.Mean(); y != ref {
		share := balance.OpeningShare(y.lag, ref.lag, s.ambientOf())
		cs.OpeningUncertainty = math.Hypot(float64(y.ratio.HalfWidth()), share*cs.Opening)
	}
}

// methodKPa is what the method itself may be off by in the mean difference of ever so many cycles, half-width of
// 95 %, and startKPa in that of fewer than startCycles, while hoses' lags aren't known. Measured: the bias of a
// cylinder's mean is 0.006 kPa; of recordings of 0.5 to 1.4 s 91 to 96 % held the mean with methodKPa, 93 to 98 do.
const (
	methodKPa   pressure.KPa = 0.01
	startKPa    pressure.KPa = 0.05
	startCycles              = 16
)

// leastOpenings is how many cycles an opening needs. Chosen: about a second.
const leastOpenings = 8

// openingsWait is how many cycles are enough to know one. Chosen: some ten seconds.
const openingsWait = 80

// Hoses holds the order of the pulses against the bank's firing order.
func (s *Summary) Hoses(b *bank.Bank) hoses.Order { return s.hoses.Order(b) }

// LeftOut returns the cylinders, from 1, that Spread leaves out: their channels were sound in no cycle.
func (s *Summary) LeftOut() (cylinders []int) {
	for c := range s.n {
		if s.by[c].draw.N() == 0 {
			cylinders = append(cylinders, c+1)
		}
	}
	return cylinders
}

// Spread returns the largest minus the smallest mean draw of those that LeftOut doesn't name; NaN without cycles, and
// of one alone in a bank.
func (s *Summary) Spread() pressure.KPa {
	if s.n > 1 && len(s.LeftOut()) >= s.n-1 {
		return pressure.KPa(math.NaN())
	}
	low, high := math.Inf(1), math.Inf(-1)
	for c := range s.n {
		if s.by[c].draw.N() > 0 {
			low, high = min(low, s.by[c].draw.Mean()), max(high, s.by[c].draw.Mean())
		}
	}
	if low > high {
		return pressure.KPa(math.NaN())
	}
	return pressure.KPa(high - low)
}
