package sensor

import (
	"math"
	"slices"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// CheckupSeconds is how long a checkup watches. Chosen: long enough for a rate to a
// thousandth.
const CheckupSeconds = 10.0

// Verdict is what a checkup says of a channel.
type Verdict string

// Verdicts, the worst first.
const (
	VerdictRailLow   Verdict = "rail-low"       // stands at the low end
	VerdictRailHigh  Verdict = "rail-high"      // stands at the high end
	VerdictTouches   Verdict = "touches-rail"   // now and then
	VerdictSwapped   Verdict = "swapped-supply" // a pressure that can't be
	VerdictDead      Verdict = "dead"           // never moves, and should
	VerdictNoisy     Verdict = "noisy"
	VerdictHoseOff   Verdict = "hose-off"   // reads the air while the others pulse
	VerdictOff       Verdict = "off-others" // at rest, and further off the air than its data sheet allows
	VerdictStill     Verdict = "still"      // at the air pressure, and never moves by a count
	VerdictGood      Verdict = "good"       // at the air pressure, or pulsing
	VerdictOtherRole Verdict = "other-role" // no pressure channel
)

// Usable reports whether a channel of that verdict can be read, now or once its hose is on.
func (v Verdict) Usable() bool {
	return v == VerdictGood || v == VerdictStill || v == VerdictHoseOff || v == VerdictTouches
}

// Limits of the verdicts.
const (
	// checkRailShare is the share of frames on a rail from which on a channel stands there; checkTouchShare
	// the share from which on it touches the rail.
	checkRailShare  = 0.5
	checkTouchShare = 0.001
	// A healthy sensor's mean lies from checkMinMean to checkMaxMean, absolute: below any idle, above any
	// weather. Chosen.
	checkMinMean, checkMaxMean pressure.KPa = 15, 112
	// checkPulseSD is the standard deviation from which on a channel pulses. Chosen: as the zero pass's.
	checkPulseSD = zeroMaxSD
	// checkNearAir is how far off the air pressure a channel still reads the air. Chosen: twice the usual
	// error band.
	checkNearAir pressure.KPa = 3
)

// ChannelCheckup is what a checkup found on one channel.
type ChannelCheckup struct {
	Least, Most int // raw counts
	Distinct    int // different counts seen
	// RailLow and RailHigh are the shares of frames on a rail, 0 to 1.
	RailLow, RailHigh float64
	Mean              float64 // counts
	// Pressure is the mean, absolute, corrected for offset and gain; SD the standard deviation.
	Pressure, SD pressure.KPa
	// Roughness is von Neumann's ratio of the samples: about 2 for noise, near 0 for pulses.
	Roughness float64
	Verdict   Verdict
}

// Checkup looks at a board for ten seconds.
type Checkup struct {
	setup     Setup
	board     *frame.Announcement
	low, high uint16
	n         int
	frames    int
	steps     int    // between frames of one start
	ticks     uint64 // µs since the first frame
	last      frame.Frame
	by        [MaxChannels]countSums
}

// countSums are what a Checkup gathers of a channel's counts.
type countSums struct {
	seen          []bool
	least, most   int
	onLow, onHigh int // frames on a rail
	sum, sq       float64
	stepSquares   float64 // of the steps from frame to frame, summed up
}

// NewCheckup returns a checkup of the board that announced a, whose sensors are those of setup.
func NewCheckup(a *frame.Announcement, setup Setup) *Checkup {
	c := &Checkup{setup: setup, board: a, n: len(a.Channels)}
	c.low, c.high = rails(a.Bits)
	for i := range c.n {
		c.by[i] = countSums{seen: make([]bool, 1<<a.Bits), least: 1 << a.Bits, most: -1}
	}
	return c
}

// Push takes one frame and reports whether CheckupSeconds have been seen, by the board's clock.
func (c *Checkup) Push(f *frame.Frame) (complete bool) {
	joined := c.frames > 0 && f.Segment == c.last.Segment
	if joined {
		c.ticks += uint64(f.Tick - c.last.Tick)
		c.steps++
	}
	for i := range c.n {
		y, v := &c.by[i], f.Counts[i]
		y.seen[v] = true
		y.sum += float64(v)
		y.sq += float64(v) * float64(v)
		if joined {
			d := float64(v) - float64(c.last.Counts[i])
			y.stepSquares += d * d
		}
		y.least, y.most = min(y.least, int(v)), max(y.most, int(v))
		if v <= c.low {
			y.onLow++
		}
		if v >= c.high {
			y.onHigh++
		}
	}
	c.last = *f
	c.frames++
	return c.Seconds() >= CheckupSeconds
}

// Seconds returns how long the checkup has watched, by the board's clock.
func (c *Checkup) Seconds() float64 { return float64(c.ticks) * 1e-6 }

// Frames returns how many frames it saw.
func (c *Checkup) Frames() int { return c.frames }

// Rate returns the frames a second, by the board's clock; 0 before the second frame.
func (c *Checkup) Rate() float64 {
	if c.ticks == 0 {
		return 0
	}
	return float64(c.steps) / c.Seconds()
}

// Channels returns what was found, by channel.
func (c *Checkup) Channels() []ChannelCheckup {
	out := make([]ChannelCheckup, c.n)
	if c.frames == 0 {
		return out
	}
	conv := NewConverter(c.setup)
	conv.Announce(c.board)
	n := float64(c.frames)
	for i := range out {
		o, y := &out[i], &c.by[i]
		*o = ChannelCheckup{Least: y.least, Most: y.most, Mean: y.sum / n, RailLow: float64(y.onLow) / n,
			RailHigh: float64(y.onHigh) / n}
		variance := max(y.sq/n-o.Mean*o.Mean, 0)
		scale := conv.scale[i]
		o.Pressure = conv.base[i] + scale*pressure.KPa(o.Mean)
		o.SD = max(scale, -scale) * pressure.KPa(math.Sqrt(variance))
		if variance > 0 && c.steps > 0 {
			o.Roughness = y.stepSquares / float64(c.steps) / variance
		}
		for _, s := range y.seen {
			if s {
				o.Distinct++
			}
		}
	}
	c.judge(out)
	return out
}

// Running reports whether the engine seems to run: some channel pulses.
func Running(channels []ChannelCheckup) bool {
	return slices.ContainsFunc(channels, func(c ChannelCheckup) bool { return c.pulses() })
}

func (c *ChannelCheckup) pulses() bool { return c.SD > checkPulseSD && c.Roughness <= noiseRatio }

// judge gives every channel its verdict. The air pressure is the median of the channels at rest, where there
// are enough of them, else the setup's.
func (c *Checkup) judge(all []ChannelCheckup) {
	running := Running(all)
	var resting []float64
	for i := range all {
		o := &all[i]
		if c.board.Channels[i].Role == frame.Pressure && o.SD <= checkPulseSD && o.Pressure > checkMinMean &&
			o.Pressure < checkMaxMean && o.RailLow+o.RailHigh < checkTouchShare {
			resting = append(resting, float64(o.Pressure))
		}
	}
	air := c.setup.Ambient
	if len(resting) > 2 || len(resting) == 2 && !running {
		air = pressure.KPa(series.Median(resting))
	}
	for i := range all {
		all[i].Verdict = VerdictOtherRole
		if c.board.Channels[i].Role == frame.Pressure {
			all[i].Verdict = all[i].verdict(running, air, c.setup.Kind(i))
		}
	}
}

func (o *ChannelCheckup) verdict(running bool, air pressure.KPa, k *Kind) Verdict {
	off := max(o.Pressure-air, air-o.Pressure)
	atAir := off <= max(checkNearAir, ZeroMaxBands*k.Error)
	switch {
	case o.RailLow > checkRailShare:
		return VerdictRailLow
	case o.RailHigh > checkRailShare:
		return VerdictRailHigh
	case o.Pressure < checkMinMean || o.Pressure > checkMaxMean:
		return VerdictSwapped
	case o.Distinct < 2 && (running || !atAir):
		return VerdictDead
	case o.SD > checkPulseSD && !o.pulses():
		return VerdictNoisy
	case o.RailLow+o.RailHigh > checkTouchShare:
		return VerdictTouches
	case running && !o.pulses() && atAir:
		return VerdictHoseOff
	case !o.pulses() && !atAir:
		return VerdictOff
	case o.Distinct < 2:
		return VerdictStill
	}
	return VerdictGood
}
