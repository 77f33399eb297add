package view

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/session"
)

// Figures are live up to 0.3 s after the last frame, grey from then on, and gone after a second: to the
// nanosecond, on every page.
func TestFiguresAge(t *testing.T) {
	t.Parallel()
	const ms = time.Millisecond
	for _, c := range []struct {
		age          time.Duration
		stale, blank bool
	}{
		{0, false, false}, {299 * ms, false, false}, {300 * ms, false, false}, {300*ms + 1, true, false},
		{999 * ms, true, false}, {time.Second, true, false}, {time.Second + 1, true, true}, {time.Hour, true, true},
	} {
		for page, key := range map[Page]string{PageStep: "", PageWaves: "w", PageRig: "r", PageHelp: "?"} {
			t.Run(fmt.Sprintf("%v, page %d", c.age, page), func(t *testing.T) {
				v := running(reading(advice.Turn, advice.WhyUnlevel))
				v.Snap.Wave, v.Snap.Counts = &session.Wave{N: 2}, [frame.MaxChannels]uint16{512, 512}
				v.Snap.Board = &frame.Announcement{Bits: 10, ReferenceMV: 5000, Rate: 1000,
					Channels: make([]frame.Channel, 2)}
				if key != "" {
					v = press(v, key)
				}
				v = Update(v, Tick{Now: v.Snap.LastFrame.Add(c.age), Snap: v.Snap})
				checkAge(t, &v, page, c.stale, c.blank)
			})
		}
	}
}

// checkAge checks that what a view shows is as stale as it must be.
func checkAge(t *testing.T, v *View, page Page, stale, blank bool) {
	t.Helper()
	p := v.Picture()
	if p.Stale != stale || (p.Role == Dim) != stale && !blank {
		t.Errorf("stale is %v, role %d", p.Stale, p.Role)
	}
	if link := p.Head[len(p.Head)-1].Text; (link == "data stopped") != stale {
		t.Errorf("the link is told as %q", link)
	}
	speed := slices.ContainsFunc(p.Head, func(h Text) bool { return strings.Contains(h.Text, "1000 rpm") })
	if speed == blank {
		t.Errorf("the speed is shown: %v", speed)
	}
	spread := slices.ContainsFunc(p.Foot, func(f Text) bool { return strings.Contains(f.Text, "Spread") })
	if spread == blank {
		t.Errorf("the spread is shown: %v", spread)
	}
	switch page {
	case PageStep:
		if l := p.Lanes[1]; l.Shown == blank || (l.Draw == "26.5") == blank || (l.Difference == "+1.5") == blank {
			t.Errorf("the lane: %+v", l)
		}
		if strings.Contains(v.Line(), " | 2: ") == blank {
			t.Errorf("the line: %s", v.Line())
		}
	case PageWaves:
		if (p.Waves == nil || len(p.Waves.Strips) == 0) != blank {
			t.Errorf("waves: %+v", p.Waves)
		}
	case PageRig:
		if row := p.Table.Rows[1]; slices.Contains(row, "512") == blank || slices.Contains(row, "good") == blank {
			t.Errorf("the table: %q", row)
		}
	}
}

// A look at the place counts for 12 hours, by the clock that is handed in; other looks count on.
func TestTicksOfThePlaceAge(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	checks := garage.PreStartChecks(&four)
	ticks := press(View{Now: now, Checks: checks}.StartAt(StepChecks), "=", "=").Ticks
	if len(ticks) != len(checks) {
		t.Fatalf("%d of %d ticked", len(ticks), len(checks))
	}
	for _, c := range []struct {
		after time.Duration
		open  int
	}{{0, 0}, {12 * time.Hour, 0}, {12*time.Hour + 1, 4}, {-12 * time.Hour, 0}, {-12*time.Hour - 1, 4},
		{1000 * time.Hour, 4}} {
		t.Run(c.after.String(), func(t *testing.T) {
			v := Update(View{Now: now.Add(c.after)}, Bike{Checks: checks, Ticks: ticks})
			if n := openChecks(&v); n != c.open {
				t.Errorf("%d are open, want %d", n, c.open)
			}
		})
	}
}

// A note stays for six seconds, by the same clock.
func TestNotesGo(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v = Update(v, Told{Text: "a word", Role: Good})
	for after, shown := range map[time.Duration]bool{0: true, noteSeconds*time.Second - 1: true,
		noteSeconds*time.Second + 1: false} {
		snap := *v.Snap
		snap.LastFrame = now.Add(after)
		p := Update(v, Tick{Now: now.Add(after), Snap: &snap})
		if foot := p.Picture().Foot; slices.Contains(foot, Text{"a word", Good}) != shown {
			t.Errorf("after %v: %+v", after, foot)
		}
	}
}

// openChecks is how many checks have no answer.
func openChecks(v *View) (n int) {
	for _, c := range v.Checks {
		if v.openCheck(c) {
			n++
		}
	}
	return n
}
