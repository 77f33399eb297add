package cli

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

// levelFour are the bytes of a four that is level, standing, and idling with one blip.
func levelFour() (standing, idling []byte) {
	const stands, idles, blipAt = 12, 50, 20 // s
	cfg := engine.Config{Bank: bank.Default(4), Level: true, Alike: true, NoSensorErrors: true, Seed: 1}
	standing = fakeboard.FromEngine(engine.New(cfg), stands, nil).Bytes()
	cfg.Running = true
	e, blipped := engine.New(cfg), false
	return standing, fakeboard.FromEngine(e, idles, func(t float64) {
		if t > blipAt && !blipped {
			blipped = true
			e.Blip()
		}
	}).Bytes()
}

// A bank that is found level at once is saved without a screen too, in plain lines as in lines of JSON, once; so it is
// where a terminal can't draw.
func TestABankFoundLevelIsSaved(t *testing.T) {
	t.Parallel()
	standing, idling := levelFour()
	for _, flags := range [][]string{{"--headless"}, {"--headless", "--json"}, {}} {
		dir := t.TempDir()
		g := invented.Garage(t, dir)
		invented.Bike(t, g, "four", 4)
		said := ""
		synctest.Test(t, func(t *testing.T) {
			c, w := onCable()
			w.Display = func(screen.Options) (settings.Display, error) { return nil, errors.New("no cursor") }
			r := w.begin(t, dir, "zero", "--port", c.Path)
			end := play(t, c, bytes.NewReader(standing), fakeboard.Pace{})
			if status := r.status(); status != 0 {
				t.Fatalf("zero: status %d: %s", status, r.text())
			}
			end()
			live := []string{"live", "--port", c.Path, "--bike", "four", "--for", "49s"}
			r = w.begin(t, dir, append(live, flags...)...)
			play(t, c, bytes.NewReader(idling), fakeboard.Pace{})
			if status := r.status(); status != 0 {
				t.Errorf("%v: status %d", flags, status)
			}
			said = r.text()
		})
		records, damaged := g.ListSyncs("four")
		left, _ := g.ListUnfinished()
		if len(records) != 1 || len(damaged)+len(left) != 0 || records[0].Kept.Verdict != garage.VerdictDone ||
			strings.Count(said, "\nsaved "+dir) != 1 {
			t.Errorf("%v: records %+v, %v, unfinished %v; ended with %s", flags, records, damaged, left,
				said[max(len(said)-1000, 0):])
			continue
		}
		if r := evendraw(t, dir, "history", "--bike", "four"); !strings.Contains(r.out, "  level ") {
			t.Errorf("%v: history %s", flags, r.out)
		}
	}
}

// A run in lines of JSON, as one in plain lines, leaves what was turned behind while it goes on: it may be killed.
func TestAKilledRunInLinesLeavesItsTurns(t *testing.T) {
	t.Parallel()
	const idles, turnsFrom, looksAt = 40, 12, 35 // s
	e := engine.New(engine.Config{Bank: bank.Default(4), NoSensorErrors: true, Seed: 2, Running: true})
	next := 0.0
	idling := fakeboard.FromEngine(e, idles, func(at float64) {
		if at > turnsFrom && at > next {
			next = at + 0.2
			e.Turn(1, 0.02) // the one that is told
		}
	}).Bytes()
	for _, flags := range [][]string{{"--headless"}, {"--headless", "--json"}} {
		dir := t.TempDir()
		g := invented.Garage(t, dir)
		invented.Bike(t, g, "four", 4)
		synctest.Test(t, func(t *testing.T) {
			c, w := onCable()
			live := []string{"live", "--port", c.Path, "--bike", "four", "--ambient", "101.325"}
			r := w.begin(t, dir, append(live, flags...)...)
			play(t, c, bytes.NewReader(idling), fakeboard.Pace{})
			time.Sleep(looksAt * time.Second)
			if left, _ := g.ListUnfinished(); len(left) != 1 || len(left[0].Kept.Steps) == 0 {
				t.Errorf("%v: left %+v; said %s", flags, left, tail(r.text()))
			}
			if heat, ok := g.LoadHeat("four", 300); !ok || heat.Seconds < looksAt-10 {
				t.Errorf("%v: idled %.0f s, %v", flags, heat.Seconds, ok)
			}
			r.stop()
			r.status()
		})
	}
}

// A disk that fills during a run in lines of JSON is told of once.
func TestAFullDiskIsToldBesideJSON(t *testing.T) {
	t.Parallel()
	_, idling := levelFour()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		full := time.Now().Add(20 * time.Second)
		w.Spare = []string{}
		w.Room = func(string) error {
			if time.Now().After(full) {
				return errors.New("the disk is full")
			}
			return nil
		}
		r := w.begin(t, t.TempDir(), "live", "--headless", "--json", "--port", c.Path)
		end := play(t, c, bytes.NewReader(idling), fakeboard.Pace{})
		time.Sleep(3 * time.Minute)
		r.stop()
		r.status()
		end()
		if said := r.text(); strings.Count(said, "the disk is full") != 1 {
			t.Errorf("said %s", tail(said))
		}
	})
}
