package sensor

import (
	"evendraw/internal/frame"
	"evendraw/internal/pressure"
)

// MaxChannels is the largest number of channels in a sample.
const MaxChannels = frame.MaxChannels

// Rail says whether a channel stands at an end of the converter.
type Rail int8

// A channel is on a rail when its reading is nearer to the end of the converter than
// any healthy sensor's.
const (
	OffRails Rail = 0
	RailLow  Rail = -1
	RailHigh Rail = 1
)

// railMargin is the share of the converter's range at each end that counts as
// rail. Derived: the sensors of the catalogue stay between 0.04 and 0.98 of
// the supply within their range; chosen: below half of the lower of these.
const railMargin = 0.015

// Sample is one frame turned into pressures.
type Sample struct {
	// Time is seconds since the start of the stream, from the board's ticks.
	Time float64
	N    int
	// Absolute holds the channels' absolute pressures, all at Time.
	Absolute [MaxChannels]pressure.KPa
	Rails    [MaxChannels]Rail
	// Gap is how many seconds before this sample are missing beyond the usual
	// interval; 0 is none.
	Gap float64
	// Break is set when what came before can't be joined: the first sample,
	// or the first after the board started anew.
	Break bool
}

// Setup is what must be known of the sensors on a board.
type Setup struct {
	// Kinds by channel; a missing one is DefaultKind.
	Kinds []Kind
	// Offsets are what the zero pass learned: reading minus true pressure, by
	// channel; a missing one is 0.
	Offsets []pressure.KPa
	// Gains are what the match pass learned: by how much a sensor's reading moves when
	// the pressure moves by one, by channel, 1 being true; a missing one is 1. They
	// pivot at Ambient, where the offsets were learned.
	Gains []float64
	// Ambient is the absolute air pressure that gauge sensors are relative to.
	Ambient pressure.KPa
	// SupplyMV is the sensors' supply in mV when it is not the converter's
	// reference; 0 means 5000.
	SupplyMV int
}

// Kind returns the kind of the sensor on a channel.
func (s *Setup) Kind(channel int) *Kind {
	if channel < len(s.Kinds) {
		return &s.Kinds[channel]
	}
	return &catalogue[0]
}

// KindNames names the kinds of the sensors on so many channels.
func (s *Setup) KindNames(channels int) (names []string) {
	for i := range channels {
		names = append(names, s.Kind(i).Name)
	}
	return names
}

func (s *Setup) offset(channel int) pressure.KPa {
	if channel < len(s.Offsets) {
		return s.Offsets[channel]
	}
	return 0
}

func (s *Setup) supply() float64 {
	if s.SupplyMV > 0 {
		return float64(s.SupplyMV)
	}
	return defaultSupplyMV
}

// defaultSupplyMV is the usual supply of the catalogue's sensors.
const defaultSupplyMV = 5000

// absolute turns a ratio Vout/Vs of a channel into an absolute pressure.
func (s *Setup) absolute(channel int, ratio float64) pressure.KPa {
	k := s.Kind(channel)
	p := k.Pressure(ratio)
	if k.Gauge {
		p += s.Ambient
	}
	return s.correct(channel, p)
}

// correct takes a sensor's offset and gain off its reading.
func (s *Setup) correct(channel int, p pressure.KPa) pressure.KPa {
	p -= s.offset(channel)
	if g := s.gain(channel); g != 1 {
		p = s.Ambient + (p-s.Ambient)/pressure.KPa(g)
	}
	return p
}

// Uncorrected is the inverse: it puts a sensor's offset and gain back.
func (s *Setup) Uncorrected(channel int, p pressure.KPa) pressure.KPa {
	return s.WithGain(channel, p) + s.offset(channel)
}

// WithGain puts a sensor's gain alone back.
func (s *Setup) WithGain(channel int, p pressure.KPa) pressure.KPa {
	if g := s.gain(channel); g != 1 {
		p = s.Ambient + (p-s.Ambient)*pressure.KPa(g)
	}
	return p
}

func (s *Setup) gain(channel int) float64 {
	if channel < len(s.Gains) && s.Gains[channel] > 0 {
		return s.Gains[channel]
	}
	return 1
}

// Converter turns frames into samples. The channels of a frame are sampled in
// turn; Converter brings them all to the frame's tick by straight
// interpolation from the frame before.
type Converter struct {
	setup Setup
	// Of the board: pressure of a channel is scale·count + base.
	n           int
	scale, base [MaxChannels]pressure.KPa
	delay       [MaxChannels]float64 // s after the tick
	lowRail     uint16
	highRail    uint16
	period      float64 // nominal, s

	started    bool
	lastTick   uint32 // tick of the frame before, and its segment
	segment    int
	lastP      [MaxChannels]pressure.KPa
	step       float64              // of the frame before, s
	delayShare [MaxChannels]float64 // of that step that each channel is late by
	sample     Sample
}

// NewConverter returns a Converter for the sensors of setup. Announce must be
// called before the first Push.
func NewConverter(setup Setup) *Converter { return &Converter{setup: setup} }

// SetSetup changes the sensors' setup, after a zero pass say; it takes effect
// with the next frame.
func (c *Converter) SetSetup(setup Setup, a *frame.Announcement) {
	c.setup = setup
	c.started = false
	if a != nil {
		c.Announce(a)
	}
}

// Announce sets the board that the next frames come from.
func (c *Converter) Announce(a *frame.Announcement) {
	full := float64(int(1) << a.Bits)
	c.n = len(a.Channels)
	c.period = 1 / float64(a.Rate)
	c.lowRail, c.highRail = rails(a.Bits)
	toRatio := 1 / full
	if !a.Ratiometric {
		toRatio *= float64(a.ReferenceMV) / c.setup.supply()
	}
	for i, ch := range a.Channels {
		// A count stands for the middle of its step: half a count up.
		c.base[i] = c.setup.absolute(i, 0.5*toRatio)
		c.scale[i] = c.setup.absolute(i, 1.5*toRatio) - c.base[i]
		c.delay[i] = float64(ch.DelayUs) * 1e-6
	}
	c.step = 0 // the shares are of other delays
}

// rails returns the highest count on the low rail and the lowest count on the high
// rail, for a converter of that many bits.
func rails(bits int) (low, high uint16) {
	full := float64(int(1) << bits)
	return uint16(railMargin * full), uint16(full - 1 - railMargin*full)
}

// Push turns one frame into a sample, valid until the next Push.
func (c *Converter) Push(f *frame.Frame) *Sample {
	s := &c.sample
	joined := c.started && f.Segment == c.segment
	step := c.period
	s.N, s.Break, s.Gap = c.n, !joined, 0
	if joined {
		step = float64(f.Tick-c.lastTick) * 1e-6
		if f.Lost > 0 || f.Missed > 0 {
			s.Gap = max(step-c.period, 0)
		}
	}
	if c.started || s.Time > 0 {
		s.Time += step
	}
	if step != c.step {
		c.step = step
		for i, d := range c.delay[:c.n] {
			c.delayShare[i] = d / step
		}
	}
	join := joined && s.Gap == 0
	for i, count := range f.Counts[:c.n] {
		p := c.base[i] + c.scale[i]*pressure.KPa(count)
		at := p
		if join {
			at -= (p - c.lastP[i]) * pressure.KPa(c.delayShare[i])
		}
		s.Absolute[i], c.lastP[i] = at, p
		s.Rails[i] = OffRails
		switch {
		case count <= c.lowRail:
			s.Rails[i] = RailLow
		case count >= c.highRail:
			s.Rails[i] = RailHigh
		}
	}
	c.lastTick, c.segment, c.started = f.Tick, f.Segment, true
	return s
}

// FromVolts turns a row of sensor voltages, with its time in seconds, into a
// sample, by the setup's kinds, offsets and supply.
func (s *Setup) FromVolts(t float64, volts []float64) Sample {
	out := Sample{Time: t, N: len(volts)}
	for i, v := range volts {
		ratio := v * 1000 / s.supply()
		out.Absolute[i] = s.absolute(i, ratio)
		switch {
		case ratio <= railMargin:
			out.Rails[i] = RailLow
		case ratio >= 1-railMargin:
			out.Rails[i] = RailHigh
		}
	}
	return out
}

// FromKPa turns a row of absolute pressures in kPa, with its time in seconds,
// into a sample; the setup's offsets and gains are taken off.
func (s *Setup) FromKPa(t float64, kpa []float64) Sample {
	out := Sample{Time: t, N: len(kpa)}
	for i, p := range kpa {
		out.Absolute[i] = s.correct(i, pressure.KPa(p))
	}
	return out
}
