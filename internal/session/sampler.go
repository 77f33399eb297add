package session

import (
	"context"
	"io"
	"sync"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/sensor"
)

// Sampler reads a board without a pause, so that what it says is always of now, and hands the samples to
// whoever watches.
type Sampler struct {
	mu    sync.Mutex
	conv  *sensor.Converter
	board *frame.Announcement
	take  func(*sensor.Sample) (done bool)
	done  chan struct{}
	taken uint64            // samples so far
	why   *frame.Standstill // why there are no more of them
	ended chan struct{}     // closed when the source has ended
	err   error             // then
}

// NewSampler returns a sampler with that setup of the sensors.
func NewSampler(setup sensor.Setup) *Sampler {
	return &Sampler{conv: sensor.NewConverter(setup), ended: make(chan struct{})}
}

// SetSetup changes the sensors' setup.
func (s *Sampler) SetSetup(setup sensor.Setup) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.conv.SetSetup(setup, s.board)
}

// Run reads the source to its end.
func (s *Sampler) Run(src io.Reader) {
	defer close(s.ended)
	var dec frame.Decoder
	buf := make([]byte, samplerChunk)
	for s.err == nil {
		var n int
		n, s.err = src.Read(buf)
		s.mu.Lock()
		dec.Feed(buf[:n])
		for f, ok := dec.Next(); ok; f, ok = dec.Next() {
			s.push(f, dec.Board())
		}
		s.why = dec.Standstill()
		s.mu.Unlock()
	}
}

// samplerChunk is how many bytes are read at a time. Chosen: as many as a port gives.
const samplerChunk = 4096

// push takes a frame. The caller holds mu.
func (s *Sampler) push(f *frame.Frame, a *frame.Announcement) {
	s.taken++
	if a != s.board {
		if s.board == nil || s.board.Layout != a.Layout {
			s.conv.Announce(a)
		}
		s.board = a
	}
	sample := s.conv.Push(f)
	if s.take != nil && s.take(sample) {
		s.take = nil
		close(s.done)
	}
}

// Watch hands the samples from now on to take until that is done, ctx ends, the board is gone, or no frame
// comes for watchPatience: then the error is a NoFrames. The caller has no other watch under way.
func (s *Sampler) Watch(ctx context.Context, take func(*sensor.Sample) (done bool)) error {
	done := make(chan struct{})
	s.mu.Lock()
	s.take, s.done = take, done
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.take = nil
		s.mu.Unlock()
	}()
	tick := time.NewTicker(frameLook)
	defer tick.Stop()
	idle := time.Duration(0)
	for taken := uint64(0); idle < watchPatience; idle += frameLook {
		select {
		case <-done:
			return nil
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-s.ended:
			return s.err
		case <-tick.C:
		}
		if now := s.count(); now != taken {
			taken, idle = now, 0
		}
	}
	return s.noFrames(idle)
}

// watchPatience is how long a watch waits for a frame. Chosen: a board that restarts in the middle is back
// within two seconds.
const watchPatience = 5 * time.Second

func (s *Sampler) count() uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.taken
}

func (s *Sampler) noFrames(waited time.Duration) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.why == nil {
		return &NoFrames{Waited: waited}
	}
	return &NoFrames{waited, s.why}
}

// Ended is closed when the source has ended; Err is why, then.
func (s *Sampler) Ended() <-chan struct{} { return s.ended }

// Err is why the source has ended, once it has.
func (s *Sampler) Err() error { return s.err }
