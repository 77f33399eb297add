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
	"evendraw/internal/practice"
)

// A person who reads the screen and presses the practice keys.

var turnWords = regexp.MustCompile(`(?:[Tt]urn(?:ing)?|[Tt]ry|Good\.) [Ss]crew (\S+) (clockwise|anticlockwise)` +
	`(?:[^.]*?(\d+)/(\d+) of a turn)?`)

// presses is how many fine keys, a sixteenth each, are pressed in a row for an amount that was read: at least one.
func presses(over, under string) int {
	n, err := strconv.Atoi(over)
	parts, wrong := strconv.Atoi(under)
	if err != nil || wrong != nil {
		return 1
	}
	return max(16*n/parts, 1)
}

// reader is a screen that is read and whose keys are pressed.
type reader interface {
	screen() string
	keys(keys ...string)
	await(text string)
}

// level takes the job from its first picture to a level bank; glance passes the time between
// two looks.
func level(t *testing.T, r reader, glance func()) {
	t.Helper()
	r.keys("z") // straight to work
	r.await("Zero taken")
	r.keys("e")
	r.await("speed must hold")
	r.keys("n", "n") // warm, and the hoses are right
	const mostGlances, blipGlances = 600, 23
	told, since, made := "", 0, 0 // the order that is made, since which look, and how much of it
	for n, blipped := 0, 0; ; n++ {
		text := strings.Join(strings.Fields(r.screen()), " ")
		if strings.Contains(text, "The bank is level") || strings.Contains(text, "The bank reads level") {
			return
		}
		if n == mostGlances {
			t.Fatalf("not level after %d looks:\n%s", n, r.screen())
		}
		if strings.Contains(text, "Blip the throttle once") && n-blipped > blipGlances {
			r.keys("b")
			blipped = n
		}
		if strings.Contains(text, "tighten its lock nut") {
			r.keys("Enter")
		}
		if strings.Contains(text, "ress g") { // looked at, and found in order
			r.keys("g")
		}
		if said := turnWords.FindStringSubmatch(text); said != nil {
			for range 9 { // screws, throttle stop and pilot screws of a four
				if strings.Contains(r.screen(), "["+said[1]+" chosen]") {
					break
				}
				r.keys("Tab")
				glance()
			}
			order := said[1] + said[2] + said[3] + "/" + said[4]
			if order != told || n-since > 20 { // as told anew
				told, since, made = order, n, 0
			}
			if made++; made <= presses(said[3], said[4]) || said[3] == "" {
				r.keys(map[string]string{"clockwise": ".", "anticlockwise": ","}[said[2]])
			}
		} else {
			told = ""
		}
		glance()
	}
}

// virtualScreen is a canvas in virtual time.
type virtualScreen struct {
	t *testing.T
	*canvasScreen
}

func (s virtualScreen) screen() string    { return s.picture() }
func (s virtualScreen) await(text string) { s.canvasScreen.await(s.t, text) }
func (s virtualScreen) keys(keys ...string) {
	for _, k := range keys {
		if len(k) > 1 {
			k = strings.ToLower(k)
		}
		s.press(k)
	}
}

// It levels the bank, and the record is kept.
func TestScreenLevelsThePracticeEngine(t *testing.T) {
	t.Parallel()
	garage := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		s := newCanvasScreen(80, 24)
		r := world{Display: s.open}.begin(t, garage, "live", "--practice", effort.Of("triple", practice.Fresh))
		s.await(t, "Before the start")
		begun := time.Now()
		level(t, virtualScreen{t, s}, func() { time.Sleep(350 * time.Millisecond) })
		s.await(t, "Saved:")
		t.Logf("level after %v", time.Since(begun))
		s.press("?")
		time.Sleep(10 * time.Second) // the job moves on meanwhile
		if !strings.Contains(s.picture(), "carbon monoxide") {
			t.Errorf("help was taken away:\n%s", s.picture())
		}
		s.press("?", "q")
		if status := r.status(); status != 0 {
			t.Errorf("exit status %d", status)
		}
	})
	if records, _ := filepath.Glob(filepath.Join(garage, "bikes", "*", "syncs", "*.level")); len(records) != 1 {
		t.Errorf("%d records", len(records))
	}
}

// A practice engine is a cool one at each start: what one has idled is neither told of at the next nor counted on.
func TestPracticeBeginsCool(t *testing.T) {
	t.Parallel()
	garage := t.TempDir()
	clock := regexp.MustCompile(`idling 0:0(\d) of`)
	for run, seconds := range []time.Duration{4, 0} { // one that would be told of, and the next start
		synctest.Test(t, func(t *testing.T) {
			s := newCanvasScreen(80, 24)
			r := world{Display: s.open}.begin(t, garage, "live", "--practice", "triple", "--at", "level")
			s.await(t, "Practice, engine off")
			if text := s.picture(); strings.Contains(text, "idling") || strings.Contains(text, "cool") {
				t.Errorf("start %d, before the engine runs:\n%s", run+1, text)
			}
			s.press("e")
			s.awaitMatch(t, clock)
			time.Sleep(seconds * time.Second)
			if at := clock.FindStringSubmatch(s.picture()); at == nil || (at[1] > "3") != (run == 0) {
				t.Errorf("start %d, %d s later: %q\n%s", run+1, seconds, at, s.picture())
			}
			s.press("q")
			if status := r.status(); status != 0 {
				t.Errorf("status %d", status)
			}
		})
	}
}
