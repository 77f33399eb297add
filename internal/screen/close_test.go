package screen

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gdamore/tcell/v2"

	"evendraw/internal/session"
	"evendraw/internal/view"
)

// slowScreen takes some time to give the terminal back; with takes < 0 it waits until it is let go.
type slowScreen struct {
	tcell.Screen
	takes time.Duration
	letGo chan struct{}
	begun int
}

func (s *slowScreen) Fini() {
	s.begun++
	if s.takes < 0 {
		<-s.letGo
		return
	}
	time.Sleep(s.takes)
}

// A library that hangs is waited for no longer than closeWait; then the terminal is taken from it. It is not
// run beside other tests: the standard output is exchanged.
func TestCloseWaitsNoLonger(t *testing.T) {
	for _, c := range []struct {
		name  string
		takes time.Duration
		want  error
		after time.Duration
	}{
		{"at once", 0, nil, 0},
		{"soon", 20 * time.Millisecond, nil, 20 * time.Millisecond},
		{"just in time", closeWait - 1, nil, closeWait - 1},
		{"just too late", closeWait + 1, ErrStuck, closeWait},
		{"never", -1, ErrStuck, closeWait},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := outputOf(t, func() {
				synctest.Test(t, func(t *testing.T) { closeSlow(t, c.takes, c.want, c.after) })
			})
			given := strings.Contains(out, "\x1b[?1049l") && strings.Contains(out, "\x1b[?25h")
			if given != (c.want != nil) {
				t.Errorf("written %q", out)
			}
		})
	}
	if closeWait >= time.Second {
		t.Errorf("%v: the terminal must be given back within a second", closeWait)
	}
}

// closeSlow closes a terminal whose library takes so long, and checks what comes of it, and when.
func closeSlow(t *testing.T, takes time.Duration, want error, after time.Duration) {
	s := &slowScreen{takes: takes, letGo: make(chan struct{})}
	stopped := 0
	term := &Terminal{screen: s, keys: make(chan string, 1), done: make(chan struct{}), endWatch: func() { stopped++ }}
	begun := time.Now()
	if err := term.Close(); !errors.Is(err, want) || time.Since(begun) != after {
		t.Errorf("%v after %v, want %v after %v", err, time.Since(begun), want, after)
	}
	begun = time.Now()
	if err := term.Close(); err != nil || time.Since(begun) != 0 {
		t.Errorf("a second time: %v after %v", err, time.Since(begun))
	}
	term.send(view.KeyCtrlZ) // nobody takes it, nobody waits
	term.send(view.KeyCtrlZ)
	close(s.letGo)
	time.Sleep(2 * closeWait)
	synctest.Wait() // the library has come to an end
	if s.begun != 1 || stopped != 1 {
		t.Errorf("given back %d times, signals %d times", s.begun, stopped)
	}
}

// outputOf returns what do writes to the standard output.
func outputOf(t *testing.T, do func()) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	was := os.Stdout
	os.Stdout = f
	defer func() { os.Stdout = was }()
	do()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestZeroRefusalIsShown(t *testing.T) {
	t.Parallel()
	v := with(func(s *session.Snapshot, v *view.View) {
		err := errors.New("channel 2 pulses\x1b[2J")
		*v = view.Update(*v, view.Told{Text: view.Refusal(err), Role: view.Bad})
	})
	c := NewCanvas(80, 24)
	Draw(c, &v)
	if text := c.String(); !strings.Contains(text, "channel 2 pulses.[2J") || strings.Contains(text, "\x1b") {
		t.Errorf("\n%s", text)
	}
}
