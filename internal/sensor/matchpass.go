package sensor

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
)

// Limits of a match pass.
const (
	// matchSeconds is how long the source must be away from ambient for a pass to be
	// complete. Chosen: the interval of a gain is then well below MatchMaxUncertainty.
	matchSeconds = 20.0
	// matchMaxSeconds is how long a pass waits for that. Chosen: time to fit a tee and start
	// the engine, or to work a pump in steps.
	matchMaxSeconds = 90.0
	// matchBlockSeconds is the length of a block, whose mean is one point of the fits.
	// Chosen: some ten cycles at idle.
	matchBlockSeconds = 1.0
	// matchMinBlocks is the fewest points away from ambient.
	matchMinBlocks = 10
	// matchMinShare is the least share of matchBlock that its samples must cover.
	matchMinShare = 0.9
	// MatchMinLevel is how far from ambient a point must be to count as away from it. Derived:
	// 0.03 kPa, the uncertainty of a zero, over it is MatchMaxUncertainty.
	MatchMinLevel pressure.KPa = 8
	// MatchMaxUncertainty is the widest interval of a gain, half-width. Derived: 0.1 kPa at
	// the 25 kPa of an idling engine.
	MatchMaxUncertainty = 0.004
	// matchMaxGain is how far a gain may be from the others'. Derived: the MPX4115A's data sheet
	// allows its span ±1.5 % (4.521 to 4.659 V), so 3 % between two; chosen: twice that.
	matchMaxGain = 0.06
	// matchMinSlope is the gain up to which a channel just reads the air. Chosen.
	matchMinSlope = 0.3
	// matchMaxResidual is the largest scatter of a channel's points about its line.
	// Chosen: several times what sensors on one source show.
	matchMaxResidual pressure.KPa = 0.25
	// matchMaxIntercept is how far a line may miss the others' at ambient. Chosen: what a
	// zero pass takes for drift, twice.
	matchMaxIntercept pressure.KPa = 0.3
	// matchMaxChange is the change from one half of a block to the other up to which it is
	// used: hoses' lags differ. Chosen.
	matchMaxChange pressure.KPa = 2
	// matchMinRipple is the rms swing within blocks from which on the swings are compared, and
	// matchMinCorrelation the smallest correlation of a channel's with the others' on one
	// source. On separate ports of an engine that fires evenly it is below 0. Chosen: a hose
	// with a damping jet lags, which costs correlation.
	matchMinRipple      pressure.KPa = 1.5
	matchMinCorrelation float64      = 0.25
)

// Match is what a match pass learned. Slices are by channel.
type Match struct {
	// Gains are by how much each sensor's reading moves when the pressure moves by one kPa,
	// relative to the mean of all, which is weighted by their error bands; 1 for channels
	// left out.
	Gains []float64
	// Uncertainty is the half-width of each gain's 95 % interval, with what the zero pass
	// adds to it; NaN for channels left out.
	Uncertainty []float64
	// Residual is the scatter of each channel's points about its line, Bend how far its middle
	// lies off a straight line; NaN where unknown.
	Residual, Bend []pressure.KPa
	// Level is the mean of the source's vacuum over the points away from ambient, Span the
	// largest less the smallest vacuum of all points.
	Level, Span pressure.KPa
	Blocks      int
	Seconds     float64
}

// MatchPass learns each sensor's gain relative to the others', from samples taken with all hoses on
// one source: a tee on one intake port with the engine idling, or a hand pump in steps. Samples must
// come from a Setup with the zero pass's offsets and without gains. Each channel's vacuum is fitted
// by a line through 0 against the mean of the others'.
type MatchPass struct {
	ambient    pressure.KPa
	used       []int // channels
	kinds      []Kind
	zero       []pressure.KPa // uncertainty by channel
	n          int            // channels of the board
	block      matchBlockSums
	points     [][]float64 // by used channel: vacuum
	swing      swings
	began      float64
	last       float64
	started    bool
	awayBlocks int
	rails      []int
	samples    int
}

// NewMatchPass returns a pass over the pressure channels of a board, or over those of them in only if
// that is not empty; zeroUncertainty is the zero pass's, by channel, nil if unknown.
func NewMatchPass(setup Setup, channels []frame.Channel, only []int, zeroUncertainty []pressure.KPa) *MatchPass {
	m := &MatchPass{ambient: setup.Ambient, n: len(channels), rails: make([]int, len(channels))}
	for i, c := range channels {
		if c.Role != frame.Pressure || len(only) > 0 && !slices.Contains(only, i) {
			continue
		}
		m.used = append(m.used, i)
		m.kinds = append(m.kinds, *setup.Kind(i))
		u := pressure.KPa(0)
		if i < len(zeroUncertainty) {
			u = zeroUncertainty[i]
		}
		m.zero = append(m.zero, u)
	}
	m.points = make([][]float64, len(m.used))
	return m
}

// matchBlockSums are the sums of one block. The mean is weighted by 1 - cos(2πu), u going from 0 to 1
// over the block: what the ends cut off, which a hose's lag shifts, then weighs nothing.
type matchBlockSums struct {
	start, covered float64
	weight         float64
	mean           [MaxChannels]float64
	half, halfW    [2]float64 // the same for its halves, of the sum of the channels
	swing          swings
}

// swings are sums over the samples of blocks, for the correlation of each channel with the others.
type swings struct {
	n            float64
	x, xx, xs    [MaxChannels]float64
	s, ss        float64
	covXS, varX  [MaxChannels]float64 // centred by block, over all blocks
	varS, blocks float64
}

// Push takes one sample and reports whether the pass is complete.
func (m *MatchPass) Push(s *Sample) (complete bool) {
	if !m.started || s.Break {
		if !m.started {
			m.began = s.Time
		}
		m.started = true
		m.block = matchBlockSums{start: s.Time}
	}
	step := s.Time - m.last
	m.last = s.Time
	if s.Time-m.block.start >= matchBlockSeconds {
		m.endBlock()
		m.block = matchBlockSums{start: s.Time}
	}
	m.samples++
	b := &m.block
	u := (s.Time - b.start) / matchBlockSeconds
	w := 1 - math.Cos(2*math.Pi*u)
	b.weight += w
	if s.Gap == 0 && !s.Break {
		b.covered += step
	}
	sum, half := 0.0, int(2*u)
	for k, i := range m.used {
		v := float64(m.ambient - s.Absolute[i])
		b.mean[k] += w * v
		sum += v
		b.swing.x[k], b.swing.xx[k] = b.swing.x[k]+v, b.swing.xx[k]+v*v
		if s.Rails[i] != OffRails {
			m.rails[i]++
		}
	}
	for k, i := range m.used {
		b.swing.xs[k] += float64(m.ambient-s.Absolute[i]) * sum
	}
	b.swing.n, b.swing.s, b.swing.ss = b.swing.n+1, b.swing.s+sum, b.swing.ss+sum*sum
	hw := 1 - math.Cos(4*math.Pi*u)
	b.half[half] += hw * sum
	b.halfW[half] += hw
	return float64(m.awayBlocks)*matchBlockSeconds >= matchSeconds || s.Time-m.began > matchMaxSeconds
}

// endBlock takes the block as a point, unless samples are missing or the source moved.
func (m *MatchPass) endBlock() {
	b := &m.block
	if b.covered < matchMinShare*matchBlockSeconds || b.halfW[0] == 0 || b.halfW[1] == 0 || len(m.used) == 0 {
		return
	}
	n := float64(len(m.used))
	if d := b.half[0]/b.halfW[0] - b.half[1]/b.halfW[1]; math.Abs(d)/n > float64(matchMaxChange) {
		return
	}
	level := 0.0
	for k := range m.used {
		v := b.mean[k] / b.weight
		m.points[k] = append(m.points[k], v)
		level += v / n
	}
	if math.Abs(level) >= float64(MatchMinLevel) {
		m.awayBlocks++
	}
	m.swing.add(&b.swing, len(m.used))
}

// add adds a block's centred sums.
func (w *swings) add(b *swings, channels int) {
	for k := range channels {
		w.covXS[k] += b.xs[k] - b.x[k]*b.s/b.n
		w.varX[k] += b.xx[k] - b.x[k]*b.x[k]/b.n
	}
	w.varS += b.ss - b.s*b.s/b.n
	w.blocks += b.n
}

// correlation returns that of a channel's swings with those of the others together, and the smaller of
// the two rms swings.
func (w *swings) correlation(k, channels int) (correlation float64, rms pressure.KPa) {
	cov := w.covXS[k] - w.varX[k]
	others := w.varS - 2*w.covXS[k] + w.varX[k]
	own := w.varX[k]
	rest := math.Sqrt(max(others, 0)/w.blocks) / float64(channels-1)
	return cov / math.Sqrt(own*others), pressure.KPa(min(math.Sqrt(own/w.blocks), rest))
}

// Progress returns the share of MatchSeconds seen, 0 to 1.
func (m *MatchPass) Progress() float64 {
	return min(float64(m.awayBlocks)*matchBlockSeconds/matchSeconds, 1)
}

// Level returns how far the source is from ambient now: the mean vacuum of the channels over the last
// block; 0 before the first.
func (m *MatchPass) Level() (level pressure.KPa) {
	for _, p := range m.points {
		if len(p) == 0 {
			return 0
		}
		level += pressure.KPa(p[len(p)-1]) / pressure.KPa(len(m.points))
	}
	return level
}

// refuse makes a Refusal.
func refuse(channel int, format string, args ...any) *Refusal {
	return &Refusal{channel, fmt.Sprintf(format, args...)}
}
