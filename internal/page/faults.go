package page

import (
	"fmt"
	"sync"
)

// faults are the program's own errors that ended a connection.
type faults struct {
	mu    sync.Mutex // guards both below
	count int
	first string
}

// note counts what a connection panicked with.
func (f *faults) note(panicked any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.count++; f.count == 1 {
		f.first = fmt.Sprint(panicked)
	}
}

// Fault tells how many connections an error of the program itself has ended, and what the first was; nil where none
// was.
func (s *Server) Fault() error {
	s.faults.mu.Lock()
	defer s.faults.mu.Unlock()
	switch n := s.faults.count; n {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("internal error of the page, which ended a phone's connection: %s", s.faults.first)
	default:
		return fmt.Errorf("internal errors of the page, which ended %d connections of phones, the first: %s", n,
			s.faults.first)
	}
}
