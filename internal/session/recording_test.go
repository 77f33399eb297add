package session_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/session"
)

// lines are the readings of a session in full, with the counters as of each.
type lines []string

func (l *lines) add(r *balance.Reading, c *session.Chain) {
	link := c.Link()
	link.Bytes = 0 // they come by the piece
	*l = append(*l, fmt.Sprintf("%v %v %v %+v %+v %v", r.Time, r.RPM, r.Cylinders, r.Advice, link, c.Bank()))
}

// A recording read by several goroutines gives the readings, counters and Snapshot that one gives: with what goes
// wrong on a line, with another board in its middle, and of a table.
func TestRecordingsReadAsOne(t *testing.T) {
	t.Parallel()
	rec, _ := idling(12)
	random := rand.New(rand.NewPCG(7, 7))
	lossy, _ := fakeboard.Lossy(random, rec.Blocks(), 0.002)
	lossy, _ = repeated(random, lossy, 3)
	twin := fakeboard.FromEngine(engine.New(engine.Config{Bank: bank.Default(2), Running: true}), 6, nil)
	var table strings.Builder
	table.WriteString("t_us,c0,c1,c2,c3\n")
	for i := range rec.Frames {
		f := &rec.Frames[i]
		if i%1009 < 3 {
			continue
		}
		fmt.Fprintf(&table, "%d,%d,%d,%d,%d\n", f.Tick, f.Counts[0], f.Counts[1], f.Counts[2], f.Counts[3])
	}
	for name, text := range map[string][]byte{
		"plain": rec.Bytes(), "faults": fakeboard.Join(lossy), "cut short": rec.Bytes()[:40_001],
		"other boards": bytes.Join([][]byte{twin.Bytes(), rec.Bytes(), rec.Restarted("9").Bytes(), twin.Bytes()}, nil),
		"table":        []byte(table.String()),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var want, got lines
			one := session.New(session.Config{Ambient: 101.3}, session.Options{OnReading: want.add})
			if err := runAsOne(one, open(t, bytes.NewReader(text))); err != nil {
				t.Fatal(err)
			}
			s := session.New(session.Config{Ambient: 101.3}, session.Options{OnReading: got.add})
			if err := s.RunRecording(context.Background(), open(t, bytes.NewReader(text))); err != nil {
				t.Fatal(err)
			}
			if len(want) < 10 || len(got) != len(want) {
				t.Fatalf("%d readings, %d of one goroutine", len(got), len(want))
			}
			for i := range want {
				if got[i] != want[i] {
					t.Fatalf("reading %d:\n%s, of one goroutine\n%s", i, got[i], want[i])
				}
			}
			a, b := s.Snapshot(), one.Snapshot()
			if a.Link != b.Link || a.Phase != b.Phase || a.Reading.Time != b.Reading.Time || a.Heat != b.Heat {
				t.Errorf("snapshot %+v, of one goroutine %+v", a, b)
			}
		})
	}
}

func open(t *testing.T, r io.Reader) *capture.Input {
	t.Helper()
	in, err := capture.Open(r)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func runAsOne(s *session.Session, in *capture.Input) error {
	if in.Table != nil {
		return s.RunTable(context.Background(), in.Table)
	}
	return s.Run(context.Background(), in.Bytes)
}

// errPulled is that of a stick that was pulled.
var errPulled = errors.New("pulled")

// A recording that ends early ends all that was begun for it, and says why.
func TestRecordingsThatEndEarly(t *testing.T) {
	t.Parallel()
	rec, _ := idling(3)
	stream := rec.Bytes()
	four := bank.Default(4)
	ends := func(name string, cfg session.Config, src io.Reader, wrong func(error) bool) {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				if w, ok := src.(*waiting); ok {
					w.closed = make(chan struct{})
				}
				ctx, stop := context.WithCancel(context.Background())
				s := session.New(cfg, session.Options{})
				go func() {
					synctest.Wait() // for a source that waits
					stop()
				}()
				if err := s.RunRecording(ctx, &capture.Input{Bytes: src}); wrong(err) {
					t.Errorf("ended with %v", err)
				}
				if p := s.Snapshot().Phase; p != session.Ended {
					t.Errorf("phase %s", p)
				}
			})
		})
	}
	twin := fakeboard.FromEngine(engine.New(engine.Config{Bank: bank.Default(2), Running: true}), 2, nil)
	ends("a bank that does not fit", session.Config{Bank: &four}, bytes.NewReader(twin.Bytes()),
		func(err error) bool { return err == nil || !strings.Contains(err.Error(), "channel 2") })
	ends("stopped", session.Config{}, &waiting{stream: bytes.NewReader(stream), closed: nil},
		func(err error) bool { return !errors.Is(err, context.Canceled) })
	ends("a source that fails", session.Config{}, io.MultiReader(bytes.NewReader(stream), failing{}),
		func(err error) bool { return !errors.Is(err, errPulled) })
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errPulled }

// waiting gives what it has, and then waits until it is closed.
type waiting struct {
	stream *bytes.Reader
	closed chan struct{}
}

func (w *waiting) Read(p []byte) (int, error) {
	if n, err := w.stream.Read(p); err == nil {
		return n, nil
	}
	<-w.closed
	return 0, io.ErrClosedPipe
}

func (w *waiting) Close() error {
	close(w.closed)
	return nil
}
