package cli

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
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

// mostTrueSpread is what the advice aims at, 0.7 kPa, and what is left to the error of a lumpy engine's last
// reading. Chosen.
const mostTrueSpread = 0.9

// A hand that hears the page's utterances, and nothing else, levels a practice bike.
func TestPageHandThatOnlyHearsLevels(t *testing.T) {
	t.Parallel()
	for _, b := range []struct {
		name   string
		screws []string
		plain  bool
	}{
		{"fresh", []string{"1-2", "3-4", "2-3"}, false},
		{"reversed-screw", []string{"1-2", "3-4", "2-3"}, false},
		{"triple", []string{"1-2", "2-3"}, true},
		{"lumpy-twin", []string{"1-2"}, false},
	} {
		t.Run(b.name, func(t *testing.T) {
			t.Parallel()
			if !b.plain {
				effort.ForWhole(t, "one more bike")
			}
			garage := t.TempDir()
			synctest.Test(t, func(t *testing.T) { hearAndLevel(t, garage, b.name, newEarHand(b.screws...)) })
		})
	}
}

func hearAndLevel(t *testing.T, garage, bike string, hand *earHand) {
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
	for tick := time.NewTicker(50 * time.Millisecond); !hand.level; {
		select {
		case e, open := <-events:
			if !open {
				t.Fatalf("the page has ended; heard %q", heard)
			}
			ear.Hear(time.Now(), e.Voice)
		case now := <-tick.C:
			if text := ear.Heard(now); text != "" {
				heard = append(heard, text)
				hand.told(text)
			}
			s.press(hand.keys(now)...)
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
	if records, _ := filepath.Glob(filepath.Join(garage, "bikes", "*", "syncs", "*.level")); len(records) != 1 {
		t.Errorf("%d records", len(records))
	}
}

// The same in browsers, in their own time: what is heard is what the page spoke there. Then the page
// follows the rest of the job, to the record.
func TestPageHandThatOnlyHearsABrowserLevels(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "levelling by ear in a real browser")
	for _, e := range pagetest.Engines() {
		t.Run(e.Name, func(t *testing.T) {
			t.Parallel()
			s := newCanvasScreen(80, 24)
			hearABrowserAndLevel(t, e.Open(t), s)
		})
	}
}

func hearABrowserAndLevel(t *testing.T, b *pagetest.Browser, s *canvasScreen) {
	r := world{Display: s.open}.begin(t, t.TempDir(), "live", "--practice", "lumpy-twin", "--page", "127.0.0.1:0")
	b.Go(r.address())
	b.Listen(1)
	hand := newEarHand("1-2")
	hand.runs = func() bool { return strings.Contains(s.picture(), "Practice, engine on") }
	var heard []string
	var asked time.Time // each question is a program's work for the browser
	for begun := time.Now(); !hand.level; time.Sleep(20 * time.Millisecond) {
		if time.Since(asked) >= 100*time.Millisecond {
			for _, text := range b.Heard() {
				heard = append(heard, text)
				hand.told(text)
			}
			asked = time.Now()
		}
		for _, k := range hand.keys(time.Now()) {
			s.keys <- k
		}
		if time.Since(begun) > 2*effort.Hang {
			t.Fatalf("not level; heard %q; the screen:\n%s", heard, s.picture())
		}
	}
	followTheSteps(t, b, s)
	s.keys <- "q"
	said := r.says("true spread")
	if spread, err := strconv.ParseFloat(trueSpread.FindStringSubmatch(said.text)[1], 64); err != nil ||
		spread > mostTrueSpread {
		t.Errorf("it ends at %s, heard %q", said.text, heard)
	}
	t.Logf("count: 1 practice bike levelled by ear in %s: %s", b.Engine.Name, strings.TrimSpace(said.text))
}

// atStep is the number of the step that stands on the screen.
var atStep = regexp.MustCompile(`\d+/13 `)

// followTheSteps skips what is left of the job, a step after another, as the page shows it. A bank that reads level but
// is in doubt, as a lumpy engine's may be on a busy machine, does not go on by itself.
func followTheSteps(t *testing.T, b *pagetest.Browser, s *canvasScreen) {
	skipped := ""
	for _, step := range []string{"Idle speed", "Pilot screws", "Look at a raised speed", "Save"} {
		for begun, there := time.Now(), false; !there; time.Sleep(200 * time.Millisecond) {
			b.Run(&there, "return document.querySelector('header').innerText.split('\\n').some("+
				"line => line.replace(/\\.$/, '') === arguments[0])", step)
			at := atStep.FindString(s.picture())
			if doubt := strings.Contains(s.picture(), "look at cylinder"); !there && doubt && at != skipped {
				skipped = at
				s.keys <- "n"
			}
			if time.Since(begun) > effort.Hang {
				t.Fatalf("%s did not come; the screen:\n%s", step, s.picture())
			}
		}
		if step != "Save" {
			skipped = atStep.FindString(s.picture())
			s.keys <- "n"
		}
	}
}

// Whatever is asked of the page, no file changes; and it ends with the program.
func TestPageChangesNoFile(t *testing.T) {
	t.Parallel()
	garage := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		network := pagetest.NewNetwork()
		s := newCanvasScreen(80, 24)
		r := world{Display: s.open, Listen: network.Listen}.begin(t, garage, "live", "--practice", "--page")
		url := r.address()
		s.await(t, "Before the start")
		s.press("u")
		if !strings.Contains(s.picture(), url) || !strings.Contains(s.picture(), "▀▀▀▀▀▀▀") {
			t.Errorf("key u shows\n%s", s.picture())
		}
		s.press("u")
		before := allFiles(t, garage)
		token := url[strings.LastIndexByte(url, '/')+1:]
		paths := []string{"", "/", "/live", "/seen?you=1", "/../../place", "/seen?you=" + strings.Repeat("9", 40),
			"/save"}
		count := effort.Of(200, 10_000)
		for i := range count {
			c, err := network.Dial()
			if err != nil {
				t.Fatal(err)
			}
			method := []string{"GET", "POST", "HEAD", "DELETE", "PUT"}[i%5]
			fmt.Fprintf(c, "%s /%s%s HTTP/1.1\r\nHost: %s\r\nX-Number: %d\r\n\r\n", method, token, paths[i%7],
				pagetest.Addr, i)
			c.Read(make([]byte, 64))
			c.Close()
		}
		if after := allFiles(t, garage); after != before {
			t.Errorf("before:\n%s\nafter:\n%s", before, after)
		}
		s.press("q")
		r.status()
		if _, err := network.Dial(); err == nil {
			t.Error("the page outlives the program")
		}
		t.Logf("count: %d requests to the page of a running job, 0 files changed", count)
	})
	// A phone finds it again: the next run has the same address.
	synctest.Test(t, func(t *testing.T) {
		network := pagetest.NewNetwork()
		s := newCanvasScreen(80, 24)
		first := strings.TrimSpace(read(t, filepath.Join(garage, "page")))
		r := world{Display: s.open, Listen: network.Listen}.begin(t, garage, "live", "--practice", "--page")
		if url := r.address(); !strings.HasSuffix(url, "/"+first) {
			t.Errorf("%s, wants the token %s", url, first)
		}
		s.press("q")
		r.status()
	})
}

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// allFiles is every file of a folder with what it holds.
func allFiles(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	if err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			fmt.Fprintf(&b, "%s %x\n", path, sha256.Sum256([]byte(read(t, path))))
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
