package page_test

import (
	"context"
	"io"
	"math"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
	"evendraw/internal/view"
)

const (
	token = "ABCDEFGHJK23"
	url   = "http://" + pagetest.Addr + "/" + token
)

// open serves the page on a network of its own.
func open(t *testing.T) (*page.Server, *pagetest.Network) {
	t.Helper()
	n := pagetest.NewNetwork()
	s, err := page.Open(page.Options{Token: token, Listen: n.Listen})
	if err != nil {
		t.Fatal(err)
	}
	closeSound(t, s)
	return s, n
}

// closeSound closes a server when the test ends, and fails it where a connection broke the program's own rules.
func closeSound(t *testing.T, s *page.Server) {
	t.Cleanup(func() {
		s.Close()
		if err := s.Fault(); err != nil {
			t.Error(err)
		}
	})
}

// show shows a view each 50 ms for so long, brought up to date, its figures changing or not.
func show(s *page.Server, v view.View, changing bool, long time.Duration) {
	for until := time.Now().Add(long); time.Now().Before(until); time.Sleep(50 * time.Millisecond) {
		snap := *v.Snap
		r := *snap.Reading
		if snap.LastFrame = time.Now(); changing {
			r.RPM++
		}
		snap.Reading = &r
		v = view.Update(v, view.Tick{Now: time.Now(), Snap: &snap})
		s.Show(v)
	}
}

// look begins to look, and returns what counts the events.
func look(ctx context.Context, n *pagetest.Network, on func(pagetest.Event)) (ended <-chan error) {
	done := make(chan error, 1)
	c := n.Client()
	go func() {
		done <- pagetest.Look(ctx, c, url, on)
		c.CloseIdleConnections()
	}()
	return done
}

// The newest picture comes at most twenty times a second where it changes, and often enough to
// be known alive where it doesn't.
func TestPictures(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		changing    bool
		least, most int32 // events in ten seconds
	}{{true, 180, 201}, {false, 30, 42}} {
		synctest.Test(t, func(t *testing.T) {
			s, n := open(t)
			ctx, stop := context.WithCancel(t.Context())
			var count atomic.Int32
			var last atomic.Value
			ended := look(ctx, n, func(e pagetest.Event) { count.Add(1); last.Store(e) })
			show(s, levelling(turn(0.375)), c.changing, 10*time.Second)
			if got := count.Load(); got < c.least || got > c.most {
				t.Errorf("%d events in 10 s, wants %d to %d", got, c.least, c.most)
			}
			e := last.Load().(pagetest.Event)
			if e.Big != "1↔2" || e.Amount != "3/8" || e.Way != -1 || len(e.Lanes) != 4 ||
				e.Lanes[2].Difference != "+3.4 ±0.1" ||
				e.Voice.Text != "one-two, anticlockwise, three eighths" || e.Voice.Cue != "go" {
				t.Errorf("%+v", e)
			}
			if p := s.Phone(); p.Looking != 1 || len(p.Addresses) != 1 || p.Addresses[0] != url {
				t.Errorf("%+v", p)
			}
			stop()
			<-ended
		})
	}
}

// Row 27 of what the tool must survive: fifty clients, of which half take nothing. There is room
// for sixteen; who takes nothing is gone within 5 s, who takes pictures gets all of them, and the
// screen waits for nobody.
func TestSlowClients(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		s, n := open(t)
		ctx, stop := context.WithCancel(t.Context())
		var refused atomic.Int32
		var fast [8]atomic.Int32
		var all sync.WaitGroup
		for i := range 8 {
			all.Go(func() { <-look(ctx, n, func(pagetest.Event) { fast[i].Add(1) }) })
		}
		go show(s, levelling(turn(0.375)), true, 12*time.Second)
		time.Sleep(time.Second)
		for i := range 25 {
			all.Go(func() {
				c, err := n.Dial()
				if err != nil {
					return
				}
				defer c.Close()
				c.Write([]byte("GET /" + token + "/live HTTP/1.1\r\nHost: " + pagetest.Addr + "\r\n\r\n"))
				b := make([]byte, 12)
				c.Read(b)
				if strings.HasSuffix(string(b), "503") {
					refused.Add(1)
				} else if i%2 == 0 { // its system takes all, and nobody looks
					io.Copy(io.Discard, c)
				} else {
					time.Sleep(6 * time.Second)
				}
			})
		}
		time.Sleep(5 * time.Second)
		if looking := s.Phone().Looking; looking != 8 {
			t.Errorf("after 5 s %d look, wants the 8 that read", looking)
		}
		for range 17 {
			all.Go(func() {
				if err := <-look(ctx, n, func(pagetest.Event) {}); err != nil && strings.Contains(err.Error(), "503") {
					refused.Add(1)
				}
			})
		}
		time.Sleep(5 * time.Second)
		for i := range fast {
			if got := fast[i].Load(); got < 19*11 {
				t.Errorf("reader %d got %d pictures in 11 s", i, got)
			}
		}
		if got := refused.Load(); got != 17+9 {
			t.Errorf("%d were refused, wants 26 of 50", got)
		}
		t.Logf("count: 50 clients of the page, %d refused, half read nothing: gone within 5 s, readers lose nothing",
			refused.Load())
		time.Sleep(2 * time.Second)
		stop()
		all.Wait()
	})
}

// Row 28: five hundred connections that say nothing and two hundred clients; one that asks is
// answered, and all is over ten seconds later.
func TestManyConnections(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		s, n := open(t)
		go show(s, levelling(turn(0.375)), true, 3*time.Second)
		ctx, stop := context.WithCancel(t.Context())
		var refused, looked atomic.Int32
		var all sync.WaitGroup
		for i := range 500 {
			all.Go(func() {
				c, err := n.Dial()
				if err != nil {
					return
				}
				defer c.Close()
				if i%2 == 0 {
					c.Write([]byte("GET / HTT"))
				}
				c.Read(make([]byte, 1)) // until the program closes it
			})
		}
		time.Sleep(100 * time.Millisecond)
		if got := n.Open(); got > page.MostConns {
			t.Errorf("%d connections are open, at most %d", got, page.MostConns)
		}
		for range 200 {
			all.Go(func() {
				var once sync.Once
				err := <-look(ctx, n, func(pagetest.Event) { once.Do(func() { looked.Add(1) }) })
				if err != nil && strings.Contains(err.Error(), "503") {
					refused.Add(1)
				}
			})
		}
		time.Sleep(time.Second)
		begun := time.Now()
		c := n.Client()
		answer, err := c.Get(url)
		if err != nil || answer.StatusCode != http.StatusOK || time.Since(begun) > 500*time.Millisecond {
			t.Errorf("one more got %v, %v after %v", answer, err, time.Since(begun))
		} else {
			answer.Body.Close()
		}
		c.CloseIdleConnections()
		if looked.Load() != 16 || refused.Load() != 184 {
			t.Errorf("%d look and %d were refused, of 200", looked.Load(), refused.Load())
		}
		time.Sleep(2 * time.Second)
		stop()
		time.Sleep(10 * time.Second)
		if got := n.Open(); got != 0 {
			t.Errorf("%d connections are open 10 s later", got)
		}
		t.Logf("count: 700 clients of the page at once, 500 of them half open: 16 " +
			"look, 184 are told, one more is answered")
		all.Wait()
	})
}

// Whoever says STOP is heard at once: the next event after the view was shown.
func TestStopComesWithTheNextEvent(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		s, n := open(t)
		ctx, stop := context.WithCancel(t.Context())
		var cues []string
		var at time.Time
		ended := look(ctx, n, func(e pagetest.Event) {
			if len(cues) == 0 || cues[len(cues)-1] != e.Voice.Cue {
				cues = append(cues, e.Voice.Cue)
				at = time.Now()
			}
		})
		var shown time.Time
		for _, a := range []advice.Advice{turn(math.NaN()), other(advice.Reverse, advice.WhyAway),
			advice.New(advice.Done, advice.NoPart, advice.WhyLevel), advice.New(advice.Fault, advice.NoPart,
				advice.WhyHoses),
			other(advice.Stop, advice.WhyReached)} {
			shown = time.Now()
			show(s, levelling(a), true, 2*time.Second)
		}
		if got := strings.Join(cues, " "); got != "go other level fault stop" {
			t.Errorf("cues %s", got)
		}
		if at.Sub(shown) > 100*time.Millisecond {
			t.Errorf("stop after %v", at.Sub(shown))
		}
		stop()
		<-ended
	})
}
