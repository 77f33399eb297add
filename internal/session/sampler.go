package session

import (
	"context"
	"io"
	"sync"

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
	ended chan struct{} // closed when the source has ended
	err   error         // then
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
	reader := frame.NewReader(src)
	for {
		f, err := reader.Read()
		if err != nil {
			s.err = err
			return
		}
		s.push(&f, reader.Board())
	}
}

func (s *Sampler) push(f *frame.Frame, a *frame.Announcement) {
	s.mu.Lock()
	defer s.mu.Unlock()
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

// Watch hands the samples from now on to take until that is done, ctx ends or the board is gone. The caller
// has no other watch under way.
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
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-s.ended:
		return s.err
	}
}

// Ended is closed when the source has ended; Err is why, then.
func (s *Sampler) Ended() <-chan struct{} { return s.ended }

// Err is why the source has ended, once it has.
func (s *Sampler) Err() error { return s.err }
