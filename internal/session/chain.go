package session

import (
	"fmt"
	"slices"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Config says what a chain knows before the first byte.
type Config struct {
	// Bank is the bike card's; nil takes the usual one for the board's
	// pressure channels.
	Bank *bank.Bank
	// Setup is of the board's sensors, offsets included.
	Setup sensor.Setup
	// Zeroed is set when Setup's offsets come from a zero pass, or the source
	// needs none.
	Zeroed bool
	// ZeroedAt is when that zero pass was taken: for records only. ZeroUncertainty is
	// that of its offsets, by channel; nil is unknown.
	ZeroedAt        time.Time
	ZeroUncertainty []pressure.KPa
	// MatchedAt is when the match pass was taken that gave Setup's gains: for records only.
	MatchedAt time.Time
	// MatchUncertainty is that of Setup's gains, by channel; 0 is unknown.
	MatchUncertainty []float64
	// Ambient is the absolute air pressure.
	Ambient pressure.KPa
	// AmbientFrom says where Ambient comes from.
	AmbientFrom AmbientFrom
	// KnownAmbient is what a zero pass takes for the air pressure, given by who reads a barometer, absolute; with 0
	// it takes Ambient where that was given, else what it measures.
	KnownAmbient pressure.KPa
	// Reference is the cylinder compared against; 0 means 1.
	Reference int
	// Aim is the spread at which the advice stops; 0 is the default.
	Aim pressure.KPa
	// IdlingLimit is how long the engine may idle before it is to cool down, s; 0 is
	// the default.
	IdlingLimit float64
	// LevelBy is what is made level; "" is the draws.
	LevelBy balance.LevelBy
	// Hand is the user's as the card tells of it; without a Lag it is unknown.
	Hand balance.Hand
	// Idle is the card's idle speed and throttle stop.
	Idle mixture.IdleConfig
	// Lambda is a lambda probe, nil without one.
	Lambda *LambdaConfig
	// MinRPM and MaxRPM bound the speed looked for; 0 is the default.
	MinRPM, MaxRPM float64
	// BankOf chooses the settings once the board is known; nil keeps this
	// Config. It is called again when another board answers.
	BankOf func(*frame.Announcement) Config
}

// AmbientFrom is where the air pressure comes from.
type AmbientFrom string

// Sources of the air pressure. A given one is taken for true by a zero pass.
const (
	FromZeroPass AmbientFrom = "zero"
	FromUser     AmbientFrom = "given"
	FromStandard AmbientFrom = "standard-atmosphere"
)

// Link counts what came over the line.
type Link struct {
	frame.Stats
	// LastTime is the time of the last frame, seconds since the start.
	LastTime float64
	// Before is how many of the damaged blocks came before the first frame: what a board prints as it
	// starts, which is no fault of the line.
	Before uint64
}

// Chain is the stages joined.
type Chain struct {
	// Keys is set, before the first byte, where somebody can press keys: see balance.Config.
	Keys    bool
	cfg     Config
	dec     frame.Decoder
	batch   frame.Batch
	known   frame.Known // of the decoder, as of the newest frame or chunk
	trouble trouble     // as of the newest chunk
	board   *frame.Announcement
	conv    *sensor.Converter
	tracker *cycle.Tracker
	bal     *balance.Balance
	tune    tuning
	bank    bank.Bank
	zero    zeroing
	match   matching
	drift   sensor.DriftWatch
	rows    *capture.Table
	link    Link                      // as of the newest reading or chunk
	time    float64                   // of the newest frame, s
	before  uint64                    // Link.Before
	beside  *beside                   // where spans are looked at beside the frames, else nil
	held    []spanOf                  // of a recording: see holdSpan
	counts  [frame.MaxChannels]uint16 // of the newest frame
	journal Journal
	heat    heat.State
	pilots  []mixture.Pilot // of earlier trims
	err     error
	emit    func(*balance.Reading)
}

// NewChain returns a chain that hands every reading to emit.
func NewChain(cfg Config, emit func(*balance.Reading)) *Chain {
	return &Chain{cfg: cfg, emit: emit}
}

func (c *Chain) pushFrame(f *frame.Frame, a *frame.Announcement) {
	if a != c.board {
		if c.err = c.useBoard(a); c.err != nil {
			return
		}
	}
	c.counts = f.Counts
	s := c.conv.Push(f)
	c.lambdaOfFrame(f, s.Time)
	c.pushSample(s)
}

func (c *Chain) pushSample(s *sensor.Sample) {
	c.time = s.Time
	if c.zero.pass != nil {
		c.pushZero(s)
	}
	if c.match.pass != nil && c.pushMatch(s) {
		c.EndMatch()
	}
	c.drift.Push(s)
	span, ok := c.tracker.Push(s)
	if !ok {
		return
	}
	if c.beside != nil && c.tune.lambda == nil { // a probe's figures come between the spans
		c.holdSpan(span)
		return
	}
	c.link = c.linkNow()
	c.pushSpan(span)
}

// pushSpanOf is pushSpan of a span that was handed over.
func (c *Chain) pushSpanOf(s *spanOf) {
	c.link = s.link
	c.pushSpan(&s.span)
}

// pushSpan takes a span to a reading, and hands that on.
func (c *Chain) pushSpan(span *cycle.Span) {
	c.pushHeat(span)
	c.tune.push(span, &c.heat)
	if c.tune.trim != nil { // a pilot screw that is turned far stops its cylinder: the trim says so
		span.Fell, span.Stopped = false, 0
	}
	r := c.bal.Push(span)
	if r.Advice.Why == advice.WhyHot { // before the limit, maybe
		c.heat.Hot = true
	}
	r.Heat = c.heat
	c.adviseIdle(&r)
	c.journal.push(&r)
	c.emit(&r)
}

// useBoard takes an announcement. The same board's announcement, repeated, changes
// nothing.
func (c *Chain) useBoard(a *frame.Announcement) error {
	same := c.board != nil && c.board.Serial == a.Serial && c.board.Layout == a.Layout &&
		c.board.Bits == a.Bits && c.board.Rate == a.Rate && slices.Equal(c.board.Channels, a.Channels)
	first := c.board == nil
	c.board = a
	if same {
		return nil
	}
	if c.beside != nil {
		c.letGo()
		c.beside.settle()
	}
	wanted := c.zero.wanted
	c.zero, c.match = zeroing{}, matching{} // a pass on another board is none on this
	if err := c.chooseSettings(a); err != nil {
		return err
	}
	if first {
		c.before = c.known.Stats.Damaged
		c.conv = sensor.NewConverter(c.cfg.Setup)
		c.conv.Announce(a)
	} else {
		c.conv.SetSetup(c.cfg.Setup, a)
	}
	c.buildStages()
	if wanted {
		c.StartZero()
	}
	return nil
}

// chooseSettings takes those that BankOf gives for a board, and the bank.
func (c *Chain) chooseSettings(a *frame.Announcement) error {
	if of := c.cfg.BankOf; of != nil {
		c.cfg = of(a)
		c.cfg.BankOf = of
	}
	c.heat.Limit = c.cfg.IdlingLimit
	return c.chooseBank(a)
}

// buildStages makes the stages behind the converter anew.
func (c *Chain) buildStages() {
	zeroBand := c.zeroBand()
	c.tracker = cycle.NewTracker(cycle.Config{Channels: c.bank.Channels, Ambient: c.cfg.Ambient, ZeroBand: zeroBand,
		MinRPM: c.cfg.MinRPM, MaxRPM: c.cfg.MaxRPM})
	b := balance.Config{Bank: c.bank, GainBand: c.gainBand(), SupplyBand: c.supplyBand(), Ambient: c.cfg.Ambient,
		OffsetBand: zeroBand, Reference: c.cfg.Reference, Aim: c.cfg.Aim, IdleLow: c.cfg.Idle.LowRPM,
		IdleHigh: c.cfg.Idle.HighRPM,
		LevelBy:  c.cfg.LevelBy, Hand: c.cfg.Hand, Keys: c.Keys}
	if h := c.Hand(); h.Learned() { // learned since the program began: it stays, whatever the bike
		b.Hand = h
	}
	c.bal = balance.New(b)
	if len(c.tune.state.Pilots) > 0 {
		c.pilots = c.tune.state.Pilots
	}
	c.tune = newTuning(&c.cfg, c.board)
	c.tune.state.Pilots = c.pilots
	c.watchDrift()
}

// gainBand is how far the sensors' gains may be off, by cylinder - 1: what the match pass left, else the data
// sheet's.
func (c *Chain) gainBand() (band [cycle.MaxCylinders]float64) {
	for i, channel := range c.bank.Channels {
		switch u := c.cfg.MatchUncertainty; {
		case channel < len(u) && u[channel] > 0:
			band[i] = u[channel]
		case channel < len(c.cfg.Setup.Gains) && len(u) == 0: // of a capture that does not say
			band[i] = sensor.MatchMaxUncertainty
		default:
			band[i] = sensor.GainBand
		}
	}
	return band
}

// usbBand is by what share a supply of 5 V from USB may be off. USB allows 4.75 to 5.25 V (from memory).
const usbBand = 0.05

// supplyBand is by what share the sensors' supply may be off where it is not the reference of what measured them.
func (c *Chain) supplyBand() float64 {
	if !c.board.Ratiometric || c.rows != nil && c.rows.Quantity == capture.Volts {
		return usbBand
	}
	return 0
}

// zeroBand is how far the zeros of the sensors in use may be off: the widest of their error bands, 0 after a zero pass.
func (c *Chain) zeroBand() (band pressure.KPa) {
	if c.cfg.Zeroed {
		return 0
	}
	for _, channel := range c.bank.Channels {
		band = max(band, c.cfg.Setup.Kind(channel).Error)
	}
	return band
}

// chooseBank takes the configured bank, or the usual one for the board.
func (c *Chain) chooseBank(a *frame.Announcement) error {
	channels := a.PressureChannels()
	if c.cfg.Bank == nil {
		channels = channels[:min(len(channels), bank.MaxCylinders)]
		if len(channels) == 0 {
			return fmt.Errorf("board %q has no pressure channel", a.Serial)
		}
		c.bank = bank.Default(len(channels))
		c.bank.Channels = channels
	} else {
		c.bank = *c.cfg.Bank
	}
	for i, channel := range c.bank.Channels {
		if !slices.Contains(channels, channel) {
			return fmt.Errorf("cylinder %d is on channel %d, but board %q has no pressure channel of that "+
				"number", i+1, channel, a.Serial)
		}
	}
	c.cfg.Reference = max(c.cfg.Reference, 1)
	if c.cfg.Reference > c.bank.Cylinders {
		return fmt.Errorf("reference cylinder %d of a bank of %d", c.cfg.Reference, c.bank.Cylinders)
	}
	return nil
}

// Link returns the counters as of the last reading or chunk.
func (c *Chain) Link() Link { return c.link }

// noteLink notes the counters, unless they wait for spans that are looked at beside the frames.
func (c *Chain) noteLink() {
	if c.beside == nil {
		c.link = c.linkNow()
	}
}

// linkNow returns the counters as of the newest frame.
func (c *Chain) linkNow() Link { return Link{c.known.Stats, c.time, c.before} }

// Standstill returns why no frames come any more, nil while they do.
func (c *Chain) Standstill() *frame.Standstill { return c.trouble.standstill }

// Board returns the board's announcement, nil before the first; of a table, what stands for one.
func (c *Chain) Board() *frame.Announcement {
	if c.rows != nil {
		return c.board
	}
	return c.known.Board
}

// Journal returns what a record needs to know of the run so far.
func (c *Chain) Journal() Journal { return c.journal }

// Config returns the settings in force, with what zero passes have learned.
func (c *Chain) Config() Config { return c.cfg }

// Bank returns the bank in force.
func (c *Chain) Bank() bank.Bank { return c.bank }

// SetReference chooses the cylinder compared against; numbers that the bank
// does not have are ignored.
func (c *Chain) SetReference(cylinder int) {
	if c.bal != nil && cylinder >= 1 && cylinder <= c.bank.Cylinders {
		c.cfg.Reference = cylinder
		c.bal.SetReference(cylinder)
	}
}

// toBalance tells the balance something, once there is one.
func (c *Chain) toBalance(do func(*balance.Balance)) {
	if c.bal != nil {
		do(c.bal)
	}
}

// GoOn puts aside a fault that is being told, and goes on without it being mended.
func (c *Chain) GoOn() { c.toBalance((*balance.Balance).GoOn) }

// NutTight tells that the lock nut that was asked for last is tight.
func (c *Chain) NutTight() { c.toBalance((*balance.Balance).NutTight) }

// AskAnew tells that the advice is shown from now on.
func (c *Chain) AskAnew() { c.toBalance((*balance.Balance).AskAnew) }

// EffectFactors returns by which factor either way each of Effects may be off, by 95 %; NaN where it is unknown.
func (c *Chain) EffectFactors() []float64 {
	if c.bal == nil {
		return nil
	}
	return c.bal.EffectFactors()
}

// Turned returns the net turns that were made of each screw, as seen, clockwise positive.
func (c *Chain) Turned() []float64 {
	if c.bal == nil {
		return nil
	}
	return c.bal.Turned()
}

// Hand returns what is known of the user's hand.
func (c *Chain) Hand() balance.Hand {
	if c.bal == nil {
		return c.cfg.Hand
	}
	return c.bal.Hand()
}

// Effects returns what is known of the screws: kPa of vacuum per clockwise turn.
func (c *Chain) Effects() []float64 {
	if c.bal == nil {
		return nil
	}
	return c.bal.Effects()
}
