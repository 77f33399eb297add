package cli

import (
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

// ringing is a screen that notes when its bell rings.
type ringing struct {
	*canvasScreen
	mu    sync.Mutex // guards rings
	rings []time.Time
}

func (r *ringing) Bell() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.rings = append(r.rings, time.Now())
}

// since counts the rings before a time and from then on.
func (r *ringing) since(t time.Time) (before, after int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	before, _ = slices.BinarySearchFunc(r.rings, t, time.Time.Compare)
	return before, len(r.rings) - before
}

// The bell rings for the words on the screen: on the way, and four times for a level bank; not without --sound.
func TestSound(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		flags       []string
		onWay, last int
	}{"wanted": {[]string{"--sound"}, 3, 4}, "not wanted": {nil, 0, 0}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			garage := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				s := &ringing{canvasScreen: newCanvasScreen(80, 24)}
				open := func(screen.Options) (settings.Display, error) { return s, nil }
				args := append([]string{"live", "--practice", "healthy-four", "--auto"}, c.flags...)
				r := world{Display: open}.begin(t, garage, args...)
				end := "The bank is level, also after a blip"
				if c.onWay == 0 {
					end = effort.Of("Turn screw", end) // that rings too, where it is wanted
				}
				level := s.await(t, end)
				time.Sleep(2 * time.Second)
				before, last := s.since(level.Add(-100 * time.Millisecond)) // two pictures
				if last != c.last || before < c.onWay || c.onWay == 0 && before > 0 {
					t.Errorf("%d rings on the way, %d for a level bank; want %d and more, %d", before, last, c.onWay,
						c.last)
				}
				s.press("q")
				r.says("true spread")
			})
		})
	}
}
