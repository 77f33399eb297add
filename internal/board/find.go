package board

import (
	"context"
	"errors"
	"slices"
	"strings"
)

// attempt is how opening one port ended.
type attempt struct {
	path string
	link *Link
	err  error
}

// search opens several ports at the same time.
type search struct {
	ctx     context.Context
	cancel  context.CancelFunc
	opt     Options
	running map[string]bool
	results chan attempt
}

func newSearch(ctx context.Context, opt Options) *search {
	s := &search{opt: opt, running: make(map[string]bool), results: make(chan attempt)}
	s.ctx, s.cancel = context.WithCancel(ctx)
	return s
}

// try starts to open path, unless that is under way.
func (s *search) try(path string) {
	if s.running[path] {
		return
	}
	s.running[path] = true
	go func() {
		link, err := Open(s.ctx, path, s.opt)
		s.results <- attempt{path, link, err}
	}()
}

// stop ends what is under way and waits for it; links that come are closed.
func (s *search) stop() {
	s.cancel()
	for range s.running {
		if a := <-s.results; a.link != nil {
			a.link.Close()
		}
	}
}

// List lists the ports to look at: Ports if set, else those that the function List gives.
func (o *Options) List() ([]Port, error) {
	if o.Ports != nil {
		return o.Ports()
	}
	return List()
}

// Find opens the only board there is on the ports that List (or opt.Ports) gives: it opens all of them at the same time
// and waits for all. Its error is that of Open where one port's explains the failure; else an *Error of kind NoBoard or
// Several, with the boards that did answer.
func Find(ctx context.Context, opt Options) (*Link, error) {
	ports, err := opt.List()
	if err != nil {
		return nil, err
	}
	if len(ports) == 0 {
		return nil, &Error{Kind: NoBoard}
	}
	s := newSearch(ctx, opt)
	defer s.stop()
	for _, p := range ports {
		s.try(p.Path)
	}
	var links []*Link
	var failures []error
	for len(s.running) > 0 {
		a := <-s.results
		delete(s.running, a.path)
		if a.err != nil {
			failures = append(failures, a.err)
		} else {
			links = append(links, a.link)
		}
	}
	if err = ctx.Err(); err == nil && len(links) == 1 {
		return links[0], nil
	}
	for _, l := range links {
		l.Close()
	}
	if err != nil {
		return nil, cancelled("looking for a board", err)
	}
	return nil, notFound(links, failures)
}

// notFound returns why the ports did not give one board.
func notFound(links []*Link, failures []error) error {
	if len(links) == 0 {
		if err := likeliestFailure(failures); err != nil {
			return err
		}
		return &Error{Kind: NoBoard, Err: oneLine(failures)}
	}
	e := &Error{Kind: Several}
	for _, l := range links {
		e.Answers = append(e.Answers, Answer{l.path, l.board})
	}
	slices.SortFunc(e.Answers, func(a, b Answer) int { return strings.Compare(a.Port, b.Port) })
	return e
}

// blockingKinds are the kinds of failure that may keep us from the board, the
// likeliest first. Other kinds just say that a port has no board.
var blockingKinds = []Kind{Unreadable, Denied, Busy}

// likeliestFailure returns the failure that most likely kept us from the board, the only one there is, or nil.
func likeliestFailure(failures []error) error {
	for _, kind := range blockingKinds {
		for _, err := range failures {
			if isKind(err, kind) {
				return err
			}
		}
	}
	if len(failures) == 1 {
		return failures[0]
	}
	return nil
}

// isKind reports whether err is an *Error of that kind.
func isKind(err error, kind Kind) bool {
	var e *Error
	return errors.As(err, &e) && e.Kind == kind
}

// oneLine joins errors by semicolons instead of line ends.
func oneLine(errs []error) error {
	texts := make([]string, len(errs))
	for i, err := range errs {
		texts[i] = err.Error()
	}
	slices.Sort(texts)
	return errors.New(strings.Join(texts, "; "))
}
