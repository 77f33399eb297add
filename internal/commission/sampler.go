package commission

import (
	"context"
	"io"
	"sync"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// sampler reads a board without a pause, so that what it says is always of now, and hands the samples to
// whoever watches.
type sampler struct {
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

// newSampler returns a sampler with that setup of the sensors.
func newSampler(setup sensor.Setup) *sampler {
	return &sampler{conv: sensor.NewConverter(setup), ended: make(chan struct{})}
}

// setSetup changes the sensors' setup.
func (s *sampler) setSetup(setup sensor.Setup) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.conv.SetSetup(setup, s.board)
}

// run reads the source to its end.
func (s *sampler) run(src io.Reader) {
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
func (s *sampler) push(f *frame.Frame, a *frame.Announcement) {
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

// watch hands the samples from now on to take until that is done, ctx ends, the board is gone, or no frame
// comes for frameWait: then the error is a session.NoFrames. The caller has no other watch under way.
func (s *sampler) watch(ctx context.Context, take func(*sensor.Sample) (done bool)) error {
	done := make(chan struct{})
	s.mu.Lock()
	s.take, s.done = take, done
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.take = nil
		s.mu.Unlock()
	}()
	tick := time.NewTicker(samplerLook)
	defer tick.Stop()
	idle, why := time.Duration(0), (*frame.Standstill)(nil)
	for taken := uint64(0); idle < frameWait; idle += samplerLook {
		select {
		case <-done:
			return nil
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-s.ended:
			return s.err
		case <-tick.C:
		}
		var now uint64
		if now, why = s.count(); now != taken {
			taken, idle = now, 0
		}
	}
	none := &session.NoFrames{Waited: idle}
	if why != nil {
		none.Err = why
	}
	return none
}

// samplerLook is how often is looked whether frames come.
const samplerLook = 250 * time.Millisecond

// count returns how many samples came so far, and why there are no more of them.
func (s *sampler) count() (taken uint64, why *frame.Standstill) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.taken, s.why
}
