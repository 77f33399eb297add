package cli

import (
	"fmt"
	"io"
	"sync"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// The boards of the tests.

// idlingEngine is a four that idles for ever.
func idlingEngine() *engine.Engine {
	return engine.New(engine.Config{Bank: bank.Default(4), Seed: 20, Running: true})
}

// idlingOnce is twelve seconds of it.
var idlingOnce = sync.OnceValue(func() fakeboard.Recording { return fakeboard.FromEngine(idlingEngine(), 12, nil) })

// serials counts the boards, so that each has a serial number of its own: a program that looks
// for its board takes no other test's.
var serials struct {
	sync.Mutex
	n int
}

func newSerial() string {
	serials.Lock()
	defer serials.Unlock()
	serials.n++
	return fmt.Sprint("T", serials.n)
}

// idlingBoard is a board of its own on a four that idles for ever.
func idlingBoard() io.Reader { return ownBoard(idlingEngine()) }

// ownBoard sends what a board sends, under a serial number of its own.
func ownBoard(src io.Reader) io.Reader {
	serial := newSerial()
	return &renamed{src: src, about: func(a *frame.Announcement) { a.Serial = serial }}
}

// renamed is a board's stream that says something else of itself.
type renamed struct {
	src   io.Reader
	about func(*frame.Announcement)
	dec   frame.Decoder
	in    [512]byte
	out   []byte
	says  int64 // second of the last announcement, and one
}

func (r *renamed) Read(p []byte) (int, error) {
	for len(r.out) == 0 {
		n, err := r.src.Read(r.in[:])
		if err != nil {
			return 0, err
		}
		r.dec.Feed(r.in[:n])
		for f, ok := r.dec.Next(); ok; f, ok = r.dec.Next() {
			about := *r.dec.Board()
			if second := int64(f.Counter)/int64(about.Rate) + 1; second != r.says {
				r.says = second
				r.about(&about)
				r.out = frame.AppendAnnouncement(r.out, &about)
			}
			r.out = frame.AppendData(r.out, frame.Seed(about.Layout), f)
		}
	}
	n := copy(p, r.out)
	r.out = append(r.out[:0], r.out[n:]...)
	return n, nil
}

// named is the recording as of a board of its own.
func named(r fakeboard.Recording) fakeboard.Recording {
	r.About.Serial = newSerial()
	return r
}
