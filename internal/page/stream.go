package page

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// Bounds of what is sent. All chosen.
const (
	// mostLooking is how many browsers may look at a time: two hands with a phone each, and guests.
	mostLooking = 16
	// leastApart is the least time between two pictures: twenty a second, as on the screen.
	leastApart = 50 * time.Millisecond
	// alive is how often a picture is sent again though nothing has changed: the page takes the
	// laptop for gone after 1.5 s, and greys its figures after 0.6 s.
	alive = 250 * time.Millisecond
	// mostUnseen is how long a browser may go without a word that it has seen something; the page
	// says so each second. A phone that lies in a drawer keeps no place.
	mostUnseen = 4 * time.Second
	// mostWrite is how long a browser may take to take one picture.
	mostWrite = 2 * time.Second
	// retry is how long a browser waits before it comes back.
	retry = 300 * time.Millisecond
)

// shot is one picture; next is closed when there is a newer one. It is written as JSON by the first who sends it.
type shot struct {
	picture view.Picture
	say     voice.Utterance
	next    chan struct{}
	write   sync.Once
	data    []byte
}

func newShot(p view.Picture, u voice.Utterance) *shot {
	return &shot{picture: p, say: u, next: make(chan struct{})}
}

// event is the shot as a server-sent event.
func (s *shot) event() []byte {
	s.write.Do(func() {
		s.data = append(append([]byte("data: "), encode(&s.picture, &s.say)...), "\n\n"...)
	})
	return s.data
}

// lookers are the browsers that look.
type lookers struct {
	mu   sync.Mutex // guards what follows
	last uint64
	seen map[uint64]time.Time // by the looker's number: when it last said that it sees
}

// join takes in one more, unless there are mostLooking.
func (l *lookers) join(now time.Time) (number uint64, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.seen) >= mostLooking {
		return 0, false
	}
	l.last++
	l.seen[l.last] = now
	return l.last, true
}

func (l *lookers) leave(number uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.seen, number)
}

// sees notes that a looker sees.
func (l *lookers) sees(number uint64, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, looks := l.seen[number]; looks {
		l.seen[number] = now
	}
}

// unseen is how long a looker has not said that it sees.
func (l *lookers) unseen(number uint64, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	return now.Sub(l.seen[number])
}

func (l *lookers) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.seen)
}

// live sends pictures for as long as a browser takes them.
func (s *Server) live(a *answer) {
	if a.method == methodHead { // the page asks why it was refused
		status := statusOK
		if s.lookers.count() >= mostLooking {
			status = statusUnavailable
		}
		a.send(status, contentEvents, nil)
		return
	}
	number, ok := s.lookers.join(time.Now())
	if !ok {
		a.refuse(statusUnavailable, fmt.Sprintf("%d are looking already", mostLooking))
		return
	}
	defer s.lookers.leave(number)
	a.conn.keep()
	send := func(b []byte) bool {
		a.conn.SetWriteDeadline(time.Now().Add(mostWrite))
		_, err := a.conn.Write(b)
		return err == nil
	}
	begin := a.head(statusOK, contentEvents, -1)
	if send(fmt.Appendf(begin, "retry: %d\nevent: you\ndata: %d\n\n", retry.Milliseconds(), number)) {
		s.follow(a, number, send)
	}
}

// follow sends each newest picture that is another than the last, until the browser goes or is no longer heard of.
func (s *Server) follow(a *answer, number uint64, send func([]byte) bool) {
	var sent []byte
	var at, due time.Time
	gone := a.gone()
	for {
		newest := s.newest.Load()
		if b := newest.event(); newest.say.Number > 0 && (!bytes.Equal(b, sent) || time.Since(at) >= alive) {
			if s.lookers.unseen(number, time.Now()) > mostUnseen || !send(b) {
				return
			}
			sent, at = b, time.Now()
			// By a timetable, not after each: else it falls behind the screen's, a little each time.
			if due = due.Add(leastApart); due.Before(at) {
				due = at
			}
			select {
			case <-time.After(time.Until(due)):
			case <-gone:
				return
			}
		}
		select {
		case <-newest.next:
		case <-gone:
			return
		}
	}
}

// seen notes that the browser with the number in the query sees what it is sent.
func (s *Server) seen(query string) {
	for pair := range strings.SplitSeq(query, "&") {
		if number, err := strconv.ParseUint(strings.TrimPrefix(pair, "you="), 10, 64); err == nil {
			s.lookers.sees(number, time.Now())
		}
	}
}
