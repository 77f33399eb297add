package session

import (
	"cmp"
	"context"
	"errors"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/heat"
	"evendraw/internal/sensor"
)

// Phase is how far the link has come.
type Phase string

// Phases of a link.
const (
	Waiting Phase = "waiting" // nothing has come yet
	Garbled Phase = "garbled" // bytes, but no frame among them
	Foreign Phase = "foreign" // a board whose frames can't be read
	Refused Phase = "refused" // a board that announces itself, and no frame of which can be used
	Running Phase = "running" // frames come
	Lost    Phase = "lost"    // the board is gone, and looked for
	Ended   Phase = "ended"   // the source has ended
)

// Snapshot is what a session says at one instant. It never changes.
type Snapshot struct {
	Phase Phase
	// Since is when the phase began; LastFrame is when a frame came last:
	// wall time, zero if none did.
	Since, LastFrame time.Time
	Board            *frame.Announcement
	Link             Link
	// Reading is the newest, nil before the first.
	Reading *balance.Reading
	Bank    bank.Bank
	Config  Config
	Effects []float64
	// EffectFactors are by which factor either way they may be off, by 95 %, NaN unknown.
	EffectFactors []float64
	// Turned are the net turns made of each screw, as seen, clockwise positive.
	Turned []float64
	Hand   balance.Hand
	Tune   Tune
	Zero   ZeroState
	Match  MatchState
	// Drift is by how much the sensors were last seen to have moved, the engine being off.
	Drift   sensor.Drift
	Journal Journal
	// Heat is the budget of idling as of HeatAt, zero before the first frame: see HeatNow.
	Heat   heat.State
	HeatAt time.Time
	// Counts are the newest frame's, by channel; 0 without frames.
	Counts [frame.MaxChannels]uint16
	// Wave is the last cycle, nil when there is none.
	Wave *Wave
	// Err is why the phase is Foreign, Refused, Lost or Ended; nil for a clean end.
	Err error
}

// Options are a session's settings beside the chain's.
type Options struct {
	// Keys is that of Chain.
	Keys bool
	// Until stops the session with the chunk that reaches that time of the
	// source's own, in seconds; 0 is never. Once so much wall time is over as well, a
	// source that gives no frames any more ends it with a NoFrames.
	Until float64
	// Patience ends the session with a NoFrames when no frame came for so long; 0 is never.
	Patience time.Duration
	// OnRefused is told why no frame can be used, each time that this begins.
	OnRefused func(error)
	// OnReading is called for every reading, in the goroutine of Run.
	OnReading func(*balance.Reading, *Chain)
	// Tee gets the untouched bytes; nil is none. An error there never stops
	// the session: it is handed to TeeFailed once, and the tee is dropped.
	Tee       io.Writer
	TeeFailed func(error)
	// Bits are the converter's, for tables of counts; 0 means 10.
	Bits int
}

// defaultBits is the converter of the usual board.
const defaultBits = 10

// Session runs a chain over a source and publishes Snapshots.
type Session struct {
	opt       Options
	mu        sync.Mutex // guards chain, phase and since
	chain     *Chain
	phase     Phase
	since     time.Time
	lastFrame time.Time
	heatAt    time.Time // up to when the budget of idling is counted
	err       error
	reading   *balance.Reading
	waveOf    *balance.Reading // the reading that wave was made of
	wave      *Wave
	snap      atomic.Pointer[Snapshot]
}

// New returns a session that has not run yet.
func New(cfg Config, opt Options) *Session {
	s := &Session{opt: opt, phase: Waiting, since: time.Now()}
	if s.opt.Bits == 0 {
		s.opt.Bits = defaultBits
	}
	s.chain = NewChain(cfg, func(r *balance.Reading) {
		s.reading = r
		if s.opt.OnReading != nil {
			s.opt.OnReading(r, s.chain)
		}
	})
	s.chain.Keys = opt.Keys
	s.publish()
	return s
}

// chunk is the most bytes that are read at once, each of which makes a Snapshot. Chosen: a file's
// are few then, and it is read straight into them; a board never has so many waiting.
const chunk = 64 << 10

// Snapshot returns the newest.
func (s *Session) Snapshot() *Snapshot { return s.snap.Load() }

// Run reads the board's bytes from src until it ends, until Options.Until, or
// until ctx is done. If src can be closed, ctx closes it. The end of the stream
// is nil; so is Options.Until. Run may be called again, with the board found
// again.
func (s *Session) Run(ctx context.Context, src io.Reader) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if s.opt.Until > 0 || s.opt.Patience > 0 {
		go s.watchFrames(ctx, stop)
	}
	if c, ok := src.(io.Closer); ok {
		end := context.AfterFunc(ctx, func() { c.Close() })
		defer end()
	}
	buf := make([]byte, chunk)
	for {
		n, err := src.Read(buf)
		if n > 0 {
			s.tee(buf[:n])
			if fatal := s.feed(buf[:n]); fatal != nil {
				return s.end(Ended, fatal)
			}
		}
		switch {
		case ctx.Err() != nil:
			return s.end(Ended, context.Cause(ctx))
		case s.reached(), errors.Is(err, io.EOF):
			return s.finish()
		case err != nil:
			return s.end(Lost, err)
		}
	}
}

// RunTable reads the rows of a table to the end.
func (s *Session) RunTable(ctx context.Context, t *capture.Table) error {
	var p piece
	for ctx.Err() == nil && !s.reached() {
		p.readRows(t)
		s.mu.Lock()
		err := cmp.Or(s.chain.takePiece(t, &p, s.opt.Bits), p.err)
		s.noteFrames(time.Now())
		s.mu.Unlock()
		if err != nil && err != io.EOF {
			return s.end(Ended, err)
		}
		if err == io.EOF {
			break
		}
	}
	return s.end(Ended, ctx.Err())
}

// SetTee hands the bytes to come to w as well. It must not be called while Run
// reads.
func (s *Session) SetTee(w io.Writer) { s.opt.Tee = w }

func (s *Session) tee(p []byte) {
	if s.opt.Tee == nil {
		return
	}
	if _, err := s.opt.Tee.Write(p); err != nil {
		s.opt.Tee = nil
		if s.opt.TeeFailed != nil {
			s.opt.TeeFailed(err)
		}
	}
}

// feed gives the chain a chunk and publishes what it says.
func (s *Session) feed(p []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	before := s.chain.Link().Frames
	s.heatUnseen(time.Now())
	err := s.chain.Feed(p)
	link, why := s.chain.Link(), s.chain.trouble
	now := time.Now()
	switch {
	case link.Frames > before:
		s.noteFrames(now)
	case why.failure != nil:
		s.refused(Foreign, why.failure, now)
	case why.standstill != nil:
		s.refused(Refused, why.standstill, now)
	case link.Frames == 0 && s.phase == Waiting && link.Announcements == 0 && link.Damaged > 0:
		s.enter(Garbled, now)
	}
	s.publish()
	return err
}

// refused notes that no frame can be used. The caller holds mu, and publishes.
func (s *Session) refused(p Phase, why error, now time.Time) {
	s.err = why
	if s.phase != p && s.opt.OnRefused != nil {
		s.opt.OnRefused(why)
	}
	s.enter(p, now)
}

// noteFrames notes that frames came. The caller holds mu, and publishes.
func (s *Session) noteFrames(now time.Time) {
	s.lastFrame, s.heatAt = now, now
	s.err = nil
	s.enter(Running, now)
}

func (s *Session) enter(p Phase, now time.Time) {
	if s.phase != p {
		s.phase, s.since = p, now
	}
}

func (s *Session) finish() error {
	s.mu.Lock()
	err := s.chain.Finish()
	s.mu.Unlock()
	return s.end(Ended, err)
}

func (s *Session) end(p Phase, err error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.err = err
	s.enter(p, time.Now())
	s.publish()
	return err
}

// reached reports whether the chain's time has passed Options.Until.
func (s *Session) reached() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.opt.Until > 0 && s.chain.time > s.opt.Until
}

// publish makes the newest Snapshot. The caller holds mu, or is alone.
func (s *Session) publish() {
	s.renewWave()
	s.snap.Store(&Snapshot{
		Phase: s.phase, Since: s.since, LastFrame: s.lastFrame, Board: s.chain.Board(), Link: s.chain.Link(),
		Reading: s.reading, Bank: s.chain.Bank(), Config: s.chain.Config(), Effects: s.chain.Effects(),
		EffectFactors: s.chain.EffectFactors(),
		Turned:        s.chain.Turned(), Hand: s.chain.Hand(), Tune: s.chain.Tune(), Zero: s.chain.ZeroState(),
		Match: s.chain.MatchState(),
		Drift: s.chain.Drift(), Journal: s.chain.Journal(), Err: s.err, Heat: s.chain.heat, HeatAt: s.heatAt,
		Counts: s.chain.counts, Wave: s.wave,
	})
}

// Chain gives f the chain while no bytes are being read.
func (s *Session) Chain(f func(*Chain)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f(s.chain)
	s.publish()
}

// AskAnew tells that the advice is shown from now on. A word that a hand did not turn, or not yet, was of the time
// before.
func (s *Session) AskAnew() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.chain.AskAnew()
	if r := s.reading; r != nil && (r.Advice.Why == advice.WhyNoAnswer || r.Advice.Again) {
		anew := *r
		anew.Advice = advice.New(advice.Wait, advice.NoPart, advice.WhyFewCycles)
		s.reading = &anew
	}
	s.publish()
}
