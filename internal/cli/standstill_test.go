package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// uselessBoards announce themselves, and none of their frames can be used.
var uselessBoards = []struct {
	name  string
	makes func(i uint32, f *frame.Frame) (sends bool)
	why   string
}{
	{"tick stands", func(_ uint32, f *frame.Frame) bool { f.Tick = 5; return true }, "its tick stands"},
	{"half the rate", func(i uint32, f *frame.Frame) bool { f.Tick = i * 2000; return true },
		"counter and tick say 500"},
	{"announcements only", func(uint32, *frame.Frame) bool { return false }, "sends no data frames"},
}

// sendUseless sends such a board's bytes from now on, 1000 frames a second, until the test ends.
func sendUseless(t *testing.T, c *fakeboard.Cable, makes func(uint32, *frame.Frame) bool) {
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	about := fakeboard.Announcement(newSerial(), 4)
	seed := frame.Seed(about.Layout)
	go func() {
		defer close(done)
		for i := uint32(0); ctx.Err() == nil; time.Sleep(20 * time.Millisecond) {
			var out []byte
			if i%1000 == 0 {
				out = frame.AppendAnnouncement(out, about)
			}
			for range 20 {
				f := frame.Frame{Counter: i, Tick: i * 1000, N: 4}
				if makes(i, &f) {
					out = frame.AppendData(out, seed, &f)
				}
				i++
			}
			c.Send(out)
		}
	}()
	t.Cleanup(func() { stop(); <-done })
}

// A board that announces itself, and of whose frames none can be used, hangs no verb: each names the
// reason and ends.
func TestUselessFramesHangNoVerb(t *testing.T) {
	t.Parallel()
	for _, verb := range [][]string{{"board", "check"}, {"zero"}, {"match"}, {"live", "--for", "5s", "--headless"},
		{"live", "--for", "5s", "--headless", "--json"}, {"live", "--for", "5s"}, {"record", "--for", "5s"},
		{"mixture", "--for", "5s"}} {
		for _, b := range uselessBoards {
			t.Run(strings.Join(verb, " ")+", "+b.name, func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					c, w := onCable()
					if len(verb) == 3 && verb[0] == "live" {
						w.Display = newCanvasScreen(80, 24).open
					}
					sendUseless(t, c, b.makes)
					begun := time.Now()
					r := w.finished(t, t.TempDir(), append(verb, "--port", c.Path)...)
					if took := time.Since(begun); r.status != exitFailed || !strings.Contains(r.err, b.why) ||
						took > 12*time.Second {
						t.Errorf("status %d after %v, %s%s", r.status, took, r.out, r.err)
					}
				})
			})
		}
	}
}

// The screen says so as long as it lasts, and goes on when frames come that can be used.
func TestScreenTellsUselessFrames(t *testing.T) {
	for _, b := range uselessBoards {
		t.Run(b.name, func(t *testing.T) {
			onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
				sendUseless(t, c, b.makes)
				if took := s.await(t, "none of its frames can be used").Sub(r.started); took > 4*time.Second {
					t.Errorf("told after %v", took)
				}
				s.await(t, b.why)
				if strings.Contains(s.picture(), "silent") {
					t.Errorf("called silent:\n%s", s.picture())
				}
			}, "--at", "level")
		})
	}
}

// A recording of such a board is kept: it is what a bug report needs.
func TestUselessFramesAreRecorded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		sendUseless(t, c, uselessBoards[0].makes)
		dir := t.TempDir()
		file := filepath.Join(dir, "c.cap")
		r := w.finished(t, dir, "record", "--for", "5s", "--port", c.Path, file)
		if check := evendraw(t, dir, "analyse", file); !strings.Contains(check.err+check.out, "its tick stands") {
			t.Errorf("record: %d %s; analyse: %d %s%s", r.status, r.err, check.status, check.out, check.err)
		}
	})
}

// Row 10, in mid-run: a board that begins to speak of another layout is named, and JSON has no figures from it.
func TestLayoutThatChangesInMidRun(t *testing.T) {
	t.Parallel()
	first, other := idlingOnce().Part(0, 4000), idlingOnce().Part(4000, 9000)
	other.About = *fakeboard.OtherLayouts(first.About.Serial, 4)[0]
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json", "--for", "8s")
		go c.Play(t.Context(), bytes.NewReader(append(first.Bytes(), other.Bytes()...)), fakeboard.Pace{})
		r.says("unknown layout")
		last := r.rest()
		if r.code != exitFailed || last.Advice.Why != "no-frames" || last.RPM != nil {
			t.Errorf("status %d, at the end %+v", r.code, last)
		}
	})
}
