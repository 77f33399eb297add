package cycle

import (
	"math"
	"math/bits"
	"slices"

	"evendraw/internal/pressure"
)

// Limits of the health of a channel.
const (
	// railShare is the share of a span's samples on a rail from which on the channel is.
	railShare = 0.5
	// minRipple is the smallest swing of a pulse, and minRippleSDs the same in standard deviations of the samples'
	// noise. Chosen: noise of a sensor and 10 bits swings by 0.5 kPa, six deviations, in a cycle.
	minRipple    pressure.KPa = 0.8
	minRippleSDs pressure.KPa = 8
	// A pulse is weak below weakShare of the median swing of the cylinders, and stays
	// weak up to weakUntil. Chosen: hoses of one set differ by a factor of two at most.
	weakShare = 0.25
	weakUntil = 0.3
	// nearAmbient is how near to ambient a hose that is off reads. Chosen: the error band of the sensors, twice.
	nearAmbient pressure.KPa = 3
	// holdSeconds is how long a state must last before it is reported. Chosen: it may
	// take 2 s, and one odd cycle is no state.
	holdSeconds = 0.6
)

// health judges each channel of a span.
type health struct {
	ambient    pressure.KPa
	n          int
	samples    int
	noise      [MaxCylinders]pressure.KPa // standard deviation of samples
	low, high  [MaxCylinders]int          // samples on a rail
	reported   [MaxCylinders]State
	candidate  [MaxCylinders]State // what it looks like, and since when
	since      [MaxCylinders]float64
	flat       [MaxCylinders]int  // looks in a row in which its dips had a flat floor
	round      [MaxCylinders]bool // a look was had in which they had none
	shrink     [MaxCylinders]shrink
	restricted [MaxCylinders]bool
	lagKnown   [MaxCylinders]bool // well enough for its damping to be held against the others' swings
	period     float64            // usual, s, of those swings
	learnedAt  float64            // the period from which on they were learned, s
}

// Limits of a flat floor.
const (
	// Within floorKPa, or floorSDs standard deviations of the noise, of the lowest lie floorShare of a
	// cycle's samples, minFloorSamples at least, and within four times that no more than floorEdge times
	// as many. Chosen: of a round dip they are twice as many (derived, of a parabola).
	floorKPa        = 0.4
	floorSDs        = 5.0
	floorShare      = 0.035
	minFloorSamples = 4
	floorEdge       = 1.4
	// minFloorSwing is the least swing of such a pulse, in those kPa. Chosen.
	minFloorSwing = 10.0
	// The mean cycle stays within levelKPa there, or levelSDs standard deviations of the noise, but for floorEnds of it
	// at each end. Chosen; measured: 0.11 kPa and 1.1 at most of sensors that end too early, 0.24 and 2.1 at least of
	// dips that look flat, of hoses that ring at 42 Hz.
	levelKPa, levelSDs = 0.15, 1.5
	floorEnds          = 0.2
	// floorLooks is in how many looks in a row, roundLooks where a dip was seen to be none. Chosen: by chance a lumpy
	// idle's look flat in one; measured on an engine of another model, in two of two minutes.
	floorLooks, roundLooks = 2, 4
)

// Limits of a pulse that shrinks at once.
const (
	// It is smaller than usual by shrunkBy, as a share, and by shrunkSDs times its scatter, for shrunkCycles
	// in a row, the others' swings being within othersStay of what they were, and their draws within drawsStay;
	// it is back when it lacks half of that. Chosen: a screw that is turned changes it by a few per cent.
	shrunkBy     = 0.1
	shrunkSDs    = 4.0
	othersStay   = 0.15
	drawsStay    = 0.06
	shrunkCycles = 3
	// usualCycles is how many cycles make a swing usual. Chosen: less is what a blip leaves.
	usualCycles = 16
	// sameSpeed is how far the period may be off the usual one, as a share: at another speed a hose takes
	// another share of the swing. Chosen.
	sameSpeed = 0.12
	// swingShare is the share by which a cycle renews the usual swing. Chosen.
	swingShare = 0.05
	// pinchSeconds is after how long what a hose does counts as usual: its lag is known anew. Chosen.
	pinchSeconds = 10.0
)

// shrink watches one pulse.
type shrink struct {
	usual  float64 // swing, kPa, 0 before it is known
	draw   float64 // kPa, as usual
	square float64 // variance of the share by which it scatters
	n      int     // cycles that are in usual
	cycles int     // in a row that it was too small
	since  float64 // s
	on     bool
}

// watchShrinking looks for pulses that have shrunk; it returns which cylinder's began or ended to, -1 is none.
func (h *health) watchShrinking(s *Span) (changed int) {
	changed = -1
	if !s.Cycle || h.period == 0 {
		h.shrink, h.period, h.learnedAt = [MaxCylinders]shrink{}, s.Period, s.Period
		return changed
	}
	h.period += swingShare * (s.Period - h.period)
	if math.Abs(h.period-h.learnedAt) > sameSpeed*h.learnedAt { // what was usual is that of another speed
		h.shrink, h.learnedAt = [MaxCylinders]shrink{}, h.period
	}
	if math.Abs(s.Period-h.period) > sameSpeed*h.period {
		return changed
	}
	var ratio, draws [MaxCylinders]float64
	for c := range h.n {
		k, draw := &h.shrink[c], float64(h.ambient-s.Mean[c])
		if k.usual == 0 || h.reported[c] != OK && h.reported[c] != Pinched {
			*k = shrink{usual: float64(s.Ripple(c + 1)), draw: draw, square: shrunkBy * shrunkBy}
		}
		ratio[c], draws[c] = float64(s.Ripple(c+1))/k.usual, draw/k.draw
	}
	for c := range h.n {
		k, others := &h.shrink[c], medianBut(ratio[:h.n], c)
		lacks, limit := 1-ratio[c]/others, max(shrunkBy, shrunkSDs*math.Sqrt(k.square))
		switch {
		case math.Abs(others-1) > othersStay, math.Abs(medianBut(draws[:h.n], c)-1) > drawsStay: // the throttle
			k.cycles = 0
		case !k.on && k.n >= usualCycles && lacks > limit:
			if k.cycles++; k.cycles >= shrunkCycles {
				k.on, k.since, changed = true, s.Start, c
			}
			continue
		case k.on && (lacks < limit/2 || s.Start-k.since > pinchSeconds):
			*k = shrink{}
			changed = c
			continue
		case k.on:
			continue
		}
		k.cycles = 0
		k.n++
		rate := max(swingShare, 1/float64(k.n+1))
		k.usual += rate * (float64(s.Ripple(c+1)) - k.usual)
		k.draw += rate * (float64(h.ambient-s.Mean[c]) - k.draw)
		k.square += rate * (lacks*lacks - k.square)
	}
	return changed
}

// medianBut returns the lower median of the figures but one; 1 of none.
func medianBut(all []float64, but int) float64 {
	var others [MaxCylinders]float64
	n := 0
	for c, v := range all {
		if c != but {
			others[n] = v
			n++
		}
	}
	if n == 0 {
		return 1
	}
	slices.Sort(others[:n])
	return others[(n-1)/2]
}

// Limits of a channel that shows less than its cylinder does.
const (
	// Its swing is below lessShare of the others' median, and its draw's share of theirs within alikeShare
	// of that. Chosen: where a butterfly stands too far open the draw falls three times as much as the
	// swing (measured), and behind a long hose the swing alone, till its lag is undone. Behind a small jet the draw
	// falls too; one above mostDraw of the others' is of a butterfly that is shut, whose runner doesn't fill.
	lessShare  = 0.75
	alikeShare = 0.12
	mostDraw   = 1.1
)

// shortfall returns ShowsLess where a cycle's swing and draw of cylinder c fall short alike, and Restricted where the
// swing does, though the lag of its hose is undone; else OK.
func (h *health) shortfall(s *Span, c int) State {
	var swings, draws [MaxCylinders]float64
	for i := range h.n {
		swings[i], draws[i] = float64(s.Ripple(i+1)), float64(h.ambient-s.Mean[i])
	}
	// Of the others as felt: in a blip a lag may seem long for a while.
	if d := s.Damping[c]; d == d {
		swings[c] /= 1 - d
	}
	swing, draw := swings[c]/medianBut(swings[:h.n], c), draws[c]/medianBut(draws[:h.n], c)
	switch {
	case h.n < 2 || swing >= lessShare:
		return OK
	case math.Abs(draw-swing) < alikeShare:
		return ShowsLess
	case h.lagKnown[c] && draw > swing && draw < mostDraw:
		return Restricted
	}
	return OK
}

// hasFloor reports whether cylinder c's samples after i0 up to i1 end below in a flat floor; mean is its mean cycle.
func (h *health) hasFloor(k *history, c, i0, i1 int, low, high float64, mean []float64) bool {
	near := max(floorKPa, floorSDs*float64(h.noise[c]))
	if high-low < minFloorSwing*near {
		return false
	}
	on, by := 0, 0
	for i := i0 + 1; i <= i1; i++ {
		off := k.kpa[c][i] - low
		if off < near {
			on++
		}
		if off < 4*near {
			by++
		}
	}
	return on >= max(minFloorSamples, int(floorShare*float64(i1-i0))) && float64(by) <= floorEdge*float64(on) &&
		floorRange(mean, near) < max(levelKPa, levelSDs*float64(h.noise[c]))
}

// isFlat reports whether the dips of cylinder c have had a flat floor for long enough to be cut off.
func (h *health) isFlat(c int) bool {
	if h.round[c] {
		return h.flat[c] >= roundLooks
	}
	return h.flat[c] >= floorLooks
}

// floorRange returns by how much a mean cycle changes where it is less than near above its lowest, but for the ends.
func floorRange(k []float64, near float64) float64 {
	least, at, _ := extremes(k)
	from, to := at, at
	for to-at < len(k)/2 && k[(to+1)%len(k)] < least+near {
		to++
	}
	for at-from < len(k)/2 && k[(from-1+len(k))%len(k)] < least+near {
		from--
	}
	ends := int(floorEnds * float64(to-from))
	least, most := math.Inf(1), math.Inf(-1)
	for i := from + ends; i <= to-ends; i++ {
		v := k[(i+len(k))%len(k)]
		least, most = min(least, v), max(most, v)
	}
	return most - least
}

// count counts the samples on a rail.
func (h *health) count(k *history, from, to int) {
	h.samples, h.low, h.high = to-from+1, [MaxCylinders]int{}, [MaxCylinders]int{}
	for i := from; i <= to; i++ {
		for rails := k.flags[i] & railFlags; rails != 0; rails &= rails - 1 {
			if b := bits.TrailingZeros32(rails); b < railHighShift {
				h.low[b]++
			} else {
				h.high[b-railHighShift]++
			}
		}
	}
}

// judge sets the state of each cylinder of the span.
func (h *health) judge(s *Span) {
	var ripples [MaxCylinders]pressure.KPa
	for c := range h.n {
		ripples[c] = s.Ripple(c + 1)
	}
	typical := typicalRipple(ripples[:h.n])
	for c := range h.n {
		s.State[c] = h.report(c, h.stateOf(s, c, typical), s)
	}
}

// stateOf returns the state that a span by itself looks like.
func (h *health) stateOf(s *Span, c int, typical pressure.KPa) State {
	enough := railShare * float64(h.samples)
	ripple, off := s.Ripple(c+1), s.Mean[c]-h.ambient
	still := ripple < max(minRipple, minRippleSDs*h.noise[c])
	weak := pressure.KPa(weakShare)
	if h.reported[c] == WeakPulse {
		weak = weakUntil
	}
	switch {
	case float64(h.low[c]) > enough:
		return RailLow
	case float64(h.high[c]) > enough:
		return RailHigh
	case still && s.Cycle && off < nearAmbient && off > -nearAmbient:
		return Ambient
	case still:
		return NoPulse
	case s.Cycle && h.isFlat(c):
		return CutOff
	case h.shrink[c].on:
		return Pinched
	case s.Cycle && h.restricted[c]:
		return Restricted
	case !s.Cycle:
		return OK
	}
	short := h.shortfall(s, c)
	if short != ShowsLess && ripple < weak*typical {
		return WeakPulse
	}
	return short
}

// report returns the state to report: a new one must last for holdSeconds.
func (h *health) report(c int, looks State, s *Span) State {
	switch {
	case h.reported[c] == "" || looks == Pinched:
		h.reported[c] = looks
	case looks == h.reported[c]:
	case looks != h.candidate[c]:
		h.since[c] = s.Start
	case s.End()-h.since[c] >= holdSeconds:
		h.reported[c] = looks
	}
	h.candidate[c] = looks
	return h.reported[c]
}

// typicalRipple returns the median, the upper one of two, of the swings that are a pulse at all.
func typicalRipple(ripples []pressure.KPa) pressure.KPa {
	var sorted [MaxCylinders]pressure.KPa
	n := 0
	for _, r := range ripples {
		if r >= minRipple {
			sorted[n] = r
			n++
		}
	}
	slices.Sort(sorted[:n])
	return sorted[n/2]
}

// stillCycles is in how many cycles in a row no runner's air must move for the engine to stand. Chosen: a blip behind
// narrow hoses is shorter.
const stillCycles = 4

// endStill ends following where the air of all runners stands at the ambient pressure: what repeats is noise.
func (t *Tracker) endStill() {
	moves := func(s State) bool { return s != Ambient }
	if t.still++; slices.ContainsFunc(t.span.State[:t.span.N], moves) {
		t.still = 0
	}
	if t.still >= stillCycles {
		t.still = 0
		t.lose()
	}
}
