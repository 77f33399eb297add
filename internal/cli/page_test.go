package cli

import (
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/page/pagetest"
)

// The page for phones, as the program serves it.

var (
	pageAddress = regexp.MustCompile(`http://\S+`)
	trueSpread  = regexp.MustCompile(`true spread ([0-9.]+) kPa`)
)

// address waits until the program has told its page's address, and returns it.
func (r *running) address() string {
	r.t.Helper()
	return pageAddress.FindString(r.says("http://").text)
}

// mostTrueSpread is what the advice aims at, and what is left to the last reading's error, kPa.
const mostTrueSpread = 0.8

// A hand that hears the page's utterances, and nothing else, levels a practice bike.
func TestPageHandThatOnlyHearsLevels(t *testing.T) {
	t.Parallel()
	for _, b := range []struct {
		name   string
		screws []string
		plain  bool
	}{
		{"fresh", []string{"1-2", "3-4", "2-3"}, true},
		{"reversed-screw", []string{"1-2", "3-4", "2-3"}, false},
		{"triple", []string{"1-2", "2-3"}, false},
	} {
		t.Run(b.name, func(t *testing.T) {
			t.Parallel()
			if !b.plain {
				effort.ForWhole(t, "one more bike")
			}
			garage := t.TempDir()
			synctest.Test(t, func(t *testing.T) { hearAndLevel(t, garage, b.name, pagetest.NewHand(b.screws...)) })
		})
	}
}

func hearAndLevel(t *testing.T, garage, bike string, hand *pagetest.Hand) {
	network := pagetest.NewNetwork()
	s := newCanvasScreen(80, 24)
	r := world{Display: s.open, Listen: network.Listen}.begin(t, garage, "live", "--practice", bike, "--page")
	events := make(chan pagetest.Event)
	client := network.Client()
	defer client.CloseIdleConnections()
	url := r.address()
	go func() {
		defer close(events)
		pagetest.Look(t.Context(), client, url, func(e pagetest.Event) { events <- e })
	}()
	var ear pagetest.Ear
	begun := time.Now()
	var heard []string
	for tick := time.NewTicker(50 * time.Millisecond); !hand.Level; {
		select {
		case e, open := <-events:
			if !open {
				t.Fatalf("the page has ended; heard %q", heard)
			}
			ear.Hear(time.Now(), e.Voice)
		case now := <-tick.C:
			if text := ear.Heard(now); text != "" {
				heard = append(heard, text)
				hand.Told(text)
			}
			s.press(hand.Keys(now)...)
		}
		if time.Since(begun) > 10*time.Minute {
			t.Fatalf("not level; heard %q; the screen:\n%s", heard, s.picture())
		}
	}
	t.Logf("level after %v; heard %q", time.Since(begun), heard)
	go func() {
		for range events {
		}
	}()
	time.Sleep(time.Second) // the record is kept
	s.press("q")
	said := r.says("true spread")
	spread, err := strconv.ParseFloat(trueSpread.FindStringSubmatch(said.text)[1], 64)
	if err != nil || spread > mostTrueSpread {
		t.Errorf("it ends at %s, heard %q", said.text, heard)
	}
	t.Logf("count: 1 practice bike levelled by ear: %s", strings.TrimSpace(said.text))
	if records, _ := filepath.Glob(filepath.Join(garage, "bikes", "*", "syncs", "*.sync")); len(records) != 1 {
		t.Errorf("%d records", len(records))
	}
}
