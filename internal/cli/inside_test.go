package cli

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

// The program in the test's own process: at once, or in virtual time with a board on a cable
// and a screen that are not there.

// world is a settings.World with which tests run the program.
type world settings.World

// runIn runs the program in a world.
func runIn(ctx context.Context, w world, args []string, in io.Reader, out, errOut io.Writer) int {
	return run(ctx, &program{version: version, world: settings.World(w)}, args, in, out, errOut)
}

// evendraw runs the program to its end, in a garage of its own.
func evendraw(t *testing.T, garage string, args ...string) result {
	t.Helper()
	return world{}.finished(t, garage, args...)
}

// seeded has the same practice bikes in every run of the tests.
func (w world) seeded() world {
	if w.Seed == nil {
		w.Seed = func() uint64 { return 1 }
	}
	return w
}

// finished runs the program to its end in that world.
func (w world) finished(t *testing.T, garage string, args ...string) result {
	t.Helper()
	var out, errOut bytes.Buffer
	status := runIn(t.Context(), w.seeded(), inGarage(garage, args), strings.NewReader(""), &out, &errOut)
	return result{out.String(), errOut.String(), status}
}

// inGarage puts the garage before the arguments; completion takes it from the environment alone.
func inGarage(garage string, args []string) []string {
	if garage == "" || len(args) > 0 && args[0] == "__complete" || slices.Contains(args, "--garage") {
		return args
	}
	return append([]string{"--garage", garage}, args...)
}

// virtually runs the program to its end in virtual time: what waits for the clock takes none.
func virtually(t *testing.T, garage string, args ...string) (r result) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { r = evendraw(t, garage, args...) })
	return r
}

// stamped is a line of output and when it came.
type stamped struct {
	text string
	at   time.Time
	line line // of a JSON line
}

// running is a run of the program that is watched while it lasts.
type running struct {
	t       *testing.T
	started time.Time
	out     chan stamped // standard output
	err     chan stamped // standard error
	ended   chan struct{}
	code    int // exit status, once it has ended
	stop    context.CancelFunc

	mu   sync.Mutex // guards said
	said bytes.Buffer
}

func newRunning(t *testing.T) *running {
	return &running{t: t, out: make(chan stamped, 100_000), err: make(chan stamped, 10_000), ended: make(chan struct{}),
		started: time.Now()}
}

// begin starts the program inside a bubble of virtual time, with nothing on standard input.
func (w world) begin(t *testing.T, garage string, args ...string) *running {
	t.Helper()
	return w.beginWith(t, strings.NewReader(""), garage, args...)
}

// beginWith starts the program inside a bubble of virtual time.
func (w world) beginWith(t *testing.T, in io.Reader, garage string, args ...string) *running {
	t.Helper()
	r := newRunning(t)
	var ctx context.Context
	ctx, r.stop = context.WithCancel(context.Background())
	outRead, out := io.Pipe()
	errRead, errOut := io.Pipe()
	var reading sync.WaitGroup
	reading.Go(func() { r.read(outRead, r.out) })
	reading.Go(func() { r.read(errRead, r.err) })
	go func() {
		r.code = runIn(ctx, w.seeded(), inGarage(garage, args), in, out, errOut)
		out.Close()
		errOut.Close()
		reading.Wait()
		close(r.ended)
	}()
	t.Cleanup(func() {
		r.stop()
		<-r.ended
	})
	return r
}

func (r *running) read(in io.Reader, to chan<- stamped) {
	defer close(to)
	for lines := bufio.NewReader(in); ; {
		text, err := lines.ReadString('\n')
		if text != "" {
			r.take(text, to)
		}
		if err != nil {
			return
		}
	}
}

// take keeps one line.
func (r *running) take(text string, to chan<- stamped) {
	s := stamped{text: text, at: time.Now()}
	r.mu.Lock()
	r.said.WriteString(text)
	r.mu.Unlock()
	if strings.HasPrefix(text, "{") {
		if err := json.Unmarshal([]byte(text), &s.line); err != nil {
			r.t.Errorf("%v in line %q", err, text)
		}
	}
	to <- s
}

// text is all that was said so far.
func (r *running) text() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.String()
}

// await returns the first line for which ok holds, from now on.
func (r *running) await(from <-chan stamped, what string, ok func(*stamped) bool) stamped {
	r.t.Helper()
	late := time.After(effort.Hang)
	for {
		select {
		case s, open := <-from:
			if !open {
				r.t.Fatalf("%s: the program has ended, having said:\n%s", what, tail(r.text()))
			}
			if ok(&s) {
				return s
			}
		case <-late:
			r.t.Fatalf("%s did not come; said:\n%s", what, tail(r.text()))
		}
	}
}

// says waits for a line of standard error with these words.
func (r *running) says(words string) stamped {
	r.t.Helper()
	return r.await(r.err, words, func(s *stamped) bool { return strings.Contains(s.text, words) })
}

// reading waits for a reading with a speed.
func (r *running) reading() stamped {
	r.t.Helper()
	return r.await(r.out, "a reading", func(s *stamped) bool { return s.line.RPM != nil })
}

// status waits for the end and returns the exit status.
func (r *running) status() int {
	r.t.Helper()
	select {
	case <-r.ended:
		return r.code
	case <-time.After(effort.Hang):
		r.t.Fatalf("the program did not end; said:\n%s", tail(r.text()))
	}
	return -1
}

// rest waits for the end and returns the last line of JSON.
func (r *running) rest() line {
	r.t.Helper()
	r.status()
	var last line
	for s := range r.out {
		if strings.HasPrefix(s.text, "{") {
			last = s.line
		}
	}
	return last
}

func tail(s string) string { return s[max(0, len(s)-1500):] }

// player is a line that a board's bytes can be sent over.
type player interface {
	Play(ctx context.Context, src io.Reader, pace fakeboard.Pace) (dropped int)
}

// play has src sent over the line until the test ends; the returned function ends it sooner
// and tells how many bytes found no room.
func play(t *testing.T, l player, src io.Reader, pace fakeboard.Pace) (end func() int) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan int, 1)
	go func() { done <- l.Play(ctx, src, pace) }()
	end = sync.OnceValue(func() int {
		stop()
		return <-done
	})
	t.Cleanup(func() { end() })
	return end
}

// canvasScreen is a screen that is not there.
type canvasScreen struct {
	keys    chan string
	gone    chan struct{}
	changed chan struct{} // has room for one word that there is another picture

	mu            sync.Mutex // guards what follows
	width, height int
	shown         *screen.Canvas
}

func newCanvasScreen(width, height int) *canvasScreen {
	return &canvasScreen{keys: make(chan string), gone: make(chan struct{}), changed: make(chan struct{}, 1),
		width: width, height: height, shown: screen.NewCanvas(width, height)}
}

// open is the world's display.
func (s *canvasScreen) open(screen.Options) (settings.Display, error) { return s, nil }

func (s *canvasScreen) Show(draw func(*screen.Canvas)) {
	c := screen.NewCanvas(s.width, s.height)
	draw(c)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shown = c
	select {
	case s.changed <- struct{}{}:
	default:
	}
}

func (s *canvasScreen) Keys() <-chan string      { return s.keys }
func (s *canvasScreen) Resized() <-chan struct{} { return nil }
func (s *canvasScreen) Gone() <-chan struct{}    { return s.gone }
func (s *canvasScreen) Suspend() error           { return nil }
func (s *canvasScreen) Close() error             { return nil }

func (s *canvasScreen) Bell() {}

// picture is what stands on the screen.
func (s *canvasScreen) picture() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.shown.String()
}

// press types keys; each is taken before the next.
func (s *canvasScreen) press(keys ...string) {
	for _, k := range keys {
		s.keys <- k
		synctest.Wait() // until it is answered
	}
}

// await waits until text stands on the screen, and returns when it does.
func (s *canvasScreen) await(t *testing.T, text string) time.Time {
	t.Helper()
	return s.awaitMatch(t, regexp.MustCompile(regexp.QuoteMeta(text)))
}

// speed is a speed on the screen.
var speed = regexp.MustCompile(`\d rpm`)

// awaitMatch waits until what the expression matches stands on the screen.
func (s *canvasScreen) awaitMatch(t *testing.T, text *regexp.Regexp) time.Time {
	t.Helper()
	late := time.After(effort.Hang)
	for {
		if text.MatchString(s.picture()) {
			return time.Now()
		}
		select {
		case <-s.changed:
		case <-late:
			t.Fatalf("%s did not come on the screen:\n%s", text, s.picture())
		}
	}
}

// write makes a file with its folders and returns its path.
func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
		t.Fatal(err)
	}
	return path
}

// dials opens one end of what is invented in the place of a port; what can't be opened is absent.
func dials[W board.Wire](dial func(path string, baud int) (W, error)) func(string, int) (board.Wire, error) {
	return func(path string, baud int) (board.Wire, error) {
		end, err := dial(path, baud)
		if err != nil {
			return nil, &board.Error{Kind: board.Absent, Port: path, Err: err}
		}
		return end, nil
	}
}

// onCable is a cable, and the world whose only port leads to it.
func onCable() (*fakeboard.Cable, world) {
	c := fakeboard.NewCable("/dev/board")
	return c, world{
		Dial: dials(c.Dial),
		Ports: func() ([]board.Port, error) {
			if !c.Plugged() {
				return nil, nil
			}
			return []board.Port{{Path: c.Path}}, nil
		},
	}
}
