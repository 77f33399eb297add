package board

import (
	"cmp"
	"context"
	"os"
	"time"
)

const (
	// pollEvery is the pause between two looks at the ports. A port that comes
	// back is opened at once thereafter: five looks in the second allowed.
	pollEvery = 200 * time.Millisecond
	// silentRest is how long a port that was silent is left alone before it is
	// opened again, as that may restart its device (chosen).
	silentRest = 2 * time.Second
)

// Reopen waits for the board of a link that was lost, and returns a new link to it. It closes lost, then looks five
// times a second for a board with the same serial number that announces itself at the same rate: at the same path and
// at all ports that opt.Ports (or List) gives; opt.Baud counts only if set. It ends with the board, or with ctx: then
// the error is an *Error of kind Vanished that wraps ctx's error.
func Reopen(ctx context.Context, lost *Link, opt Options) (*Link, error) {
	lost.Close()
	opt.Baud = cmp.Or(opt.Baud, lost.baud)
	r := &reopening{search: newSearch(ctx, opt), last: lost.path, serial: lost.board.Serial,
		notBefore: make(map[string]time.Time)}
	defer r.stop()
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	r.look()
	for {
		select {
		case <-ctx.Done():
			return nil, &Error{Kind: Vanished, Port: lost.path, Err: ctx.Err()}
		case a := <-r.results:
			if r.takeAttempt(a) {
				return a.link, nil
			}
		case <-tick.C:
			r.look()
		}
	}
}

// reopening is the search for one board that was lost.
type reopening struct {
	*search
	last      string               // path it had
	serial    string               // its number
	notBefore map[string]time.Time // ports not to be tried before that time; zero: never
}

// look tries the last path and all ports there are. Ports that have gone are
// forgotten: what comes back there may be another device.
func (r *reopening) look() {
	present := map[string]bool{}
	ports, err := r.opt.List()
	if err != nil {
		ports = nil // The next look may do better; the last path is tried anyway.
	}
	paths := []string{r.last}
	for _, p := range ports {
		present[p.Path] = true
		paths = append(paths, p.Path)
	}
	for path := range r.notBefore {
		if !present[path] && r.gone(path) {
			delete(r.notBefore, path)
		}
	}
	now := time.Now()
	for _, path := range paths {
		if until, resting := r.notBefore[path]; !resting || (!until.IsZero() && now.After(until)) {
			r.try(path)
		}
	}
}

// gone reports whether a port that is not listed is not there. With a Dial of its own, all ports are listed.
func (r *reopening) gone(path string) bool {
	if r.opt.Dial != nil {
		return true
	}
	_, err := os.Stat(path)
	return err != nil
}

// takeAttempt takes how an attempt ended, and reports whether it found the board.
func (r *reopening) takeAttempt(a attempt) bool {
	delete(r.running, a.path)
	delete(r.notBefore, a.path)
	switch {
	case a.link != nil && a.link.board.Serial == r.serial:
		return true
	case a.link != nil:
		a.link.Close()
		r.notBefore[a.path] = time.Time{}
	case isKind(a.err, Unreadable), isKind(a.err, NotSerial):
		r.notBefore[a.path] = time.Time{}
	case isKind(a.err, Silent):
		r.notBefore[a.path] = time.Now().Add(silentRest)
	}
	if r.opt.Progress != nil && a.err != nil && !isKind(a.err, Absent) && r.ctx.Err() == nil {
		r.opt.Progress(Progress{Port: a.path, Baud: r.opt.Baud, Err: a.err})
	}
	return false
}
