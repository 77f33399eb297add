package page_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
	"evendraw/internal/view"
)

// How soon pictures come over real connections, on a quiet machine.

const (
	mostLag     = 100 * time.Millisecond // from the screen's picture to ten browsers' ends, 99 of 100
	mostLagSlow = 250 * time.Millisecond // the same beside many that read nothing
	mostShow    = 5 * time.Millisecond   // that the screen waits for one Show
	lagTime     = 5 * time.Second
)

// lags shows pictures to so many clients, beside so many that read nothing, and returns how late
// pictures come at the 99th of a hundred, and the longest Show.
func lags(t *testing.T, clients, slow int) (late, longest time.Duration) {
	s, err := page.Open(page.Options{Addr: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	url := s.Phone().Addresses[0]
	host := strings.Split(url, "/")[2]
	ctx, stop := context.WithTimeout(t.Context(), lagTime)
	defer stop()
	var mu sync.Mutex // guards shown and all
	shown := map[string]time.Time{}
	var all []time.Duration
	var looking sync.WaitGroup
	for range clients {
		looking.Go(func() {
			pagetest.Look(ctx, &http.Client{Transport: &http.Transport{}}, url, func(e pagetest.Event) {
				mu.Lock()
				defer mu.Unlock()
				if at, ok := shown[e.Amount]; ok {
					all = append(all, time.Since(at))
				}
			})
		})
	}
	for s.Phone().Looking < clients {
		time.Sleep(time.Millisecond)
	}
	for range slow {
		c, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		io.WriteString(c, "GET "+strings.TrimPrefix(url, "http://"+host)+"/live HTTP/1.1\r\nHost: "+host+"\r\n\r\n")
	}
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for n := 1; ctx.Err() == nil; n++ {
		v := levelling(turn(float64(n) / 16))
		p := v.Picture()
		mu.Lock()
		shown[p.Amount] = time.Now()
		mu.Unlock()
		begun := time.Now()
		s.Show(v)
		longest = max(longest, time.Since(begun))
		<-tick.C
	}
	looking.Wait()
	if len(all) < clients*int(lagTime/(60*time.Millisecond)) {
		t.Errorf("only %d pictures came", len(all))
	}
	slices.Sort(all)
	return all[len(all)*99/100], longest
}

func TestQuietPictures(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var alone, longest, beside, longestBeside time.Duration
		late := 2 * effort.Lateness(func() {
			alone, longest = lags(t, 10, 0)
			beside, longestBeside = lags(t, 8, 25)
		})
		return []effort.Figure{effort.Millis("picture at ten browsers after the screen's, p99", alone, mostLag+late),
			effort.Millis("at eight beside 25 that read nothing, p99", beside, mostLagSlow+late),
			effort.Millis("longest wait of the screen", max(longest, longestBeside), mostShow+late)}
	})
}

// STOP sounds in a real browser soon after the screen shows it, and the laptop's silence is told in time.
func TestQuietBrowser(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		b := pagetest.Engines()[0].Open(t)
		g := newStage(t)
		b.Go(g.url)
		b.Await("the advice", "return document.querySelector('#big span') !== null")
		b.Listen(0.2)
		var tone, voice time.Duration
		var after [2]float64
		late := 2 * effort.Lateness(func() {
			for range 10 {
				g.advise(changes[1].advice)
				hears(b, changes[1].text)
				g.advise(changes[0].advice)
				tones, at, spoken := hears(b, "stop")
				if fmt.Sprint(tones) != "[1700 1700 1700]" {
					t.Fatalf("tones %v", tones)
				}
				tone, voice = max(tone, at[0].Sub(g.shownAt())), max(voice, spoken[0].At.Sub(g.shownAt()))
			}
			b.Run(nil, watch)
			g.sleep(true)
			hears(b, view.LaptopLost)
			b.Run(&after, "return [grey, gone]")
		})
		const stop, grey, gone = 150 * time.Millisecond, time.Second, 2 * time.Second // README's
		millis := float64(time.Millisecond)
		return []effort.Figure{effort.Millis("tone of STOP, the latest of ten", tone, stop+late),
			effort.Millis("word STOP, the latest of ten", voice, stop+late),
			effort.Millis("figures grey after the last event", time.Duration(after[0]*millis), grey+late),
			effort.Millis("no word from the laptop after it", time.Duration(after[1]*millis), gone+late)}
	})
}
