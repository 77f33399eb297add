package job

import (
	"bufio"
	"sync"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/board"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// jsonLines prints readings as lines of JSON.
type jsonLines struct {
	mu         sync.Mutex // two goroutines print: the reader's, and who watches for silence
	out        *bufio.Writer
	everyCycle bool
	next       float64 // time of the next reading to print, s
	err        error
	fail       func(error) // is told of err
}

// reading prints a reading, unless its turn has not come.
func (j *jsonLines) reading(r *balance.Reading, c *session.Chain) {
	if !j.everyCycle && r.Time < j.next {
		return
	}
	j.next = r.Time + jsonInterval
	cfg := c.Config()
	j.print(tell.ReadingJSON(r, c.Link(), &cfg, j.everyCycle))
}

// stale prints a line that says that no frames come.
func (j *jsonLines) stale(s *session.Snapshot) {
	r := session.Outdated(s.Reading)
	r.Heat = s.HeatNow(time.Now())
	j.print(tell.ReadingJSON(&r, s.Link, &s.Config, j.everyCycle))
}

func (j *jsonLines) print(line []byte) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.err != nil {
		return
	}
	j.out.Write(append(line, '\n'))
	if j.err = j.out.Flush(); j.err != nil {
		j.fail(j.err)
	}
}

// boardLook returns what is looked at beside a run that prints JSON: one stale line is printed each time that the
// frames stop, a record is saved once when the bank has become level, and a crash leaves behind what no record holds.
func (l *live) boardLook(j *jsonLines) func() {
	told, saved := false, false
	return func() {
		now, s := time.Now(), l.sess.Snapshot()
		l.keepUp(now)
		stale := s.Reading != nil && s.Stale(now)
		if stale && !told {
			j.stale(s)
		}
		switch told = stale; {
		case stale || s.Reading == nil:
		case s.Reading.Advice.Kind == advice.Done && !saved:
			saved = true
			l.inBackground(l.saved)
		case s.Reading.Advice.ToTurn(advice.SyncScrew):
			saved = false
		}
	}
}

// wrongRateTo returns a report of the wait for a board that says once, by tell, that bytes come which are no frames.
func wrongRateTo(tell func(string)) func(board.Progress) {
	var once sync.Once
	return func(p board.Progress) {
		if garbled(p) {
			once.Do(func() { tell(progressText(p)) })
		}
	}
}
