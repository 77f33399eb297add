package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
)

// The program on a pty, with a fake board at its other end.

// all reports whether the long tests are asked for.
func all() bool { return os.Getenv("EVENDRAW_TEST_ALL") == "1" }

const nobody = 65534

// users are those to try as: oneself, and with root's rights an ordinary one.
func users() map[string]int {
	if os.Getuid() == 0 {
		return map[string]int{"root": 0, "nobody": nobody}
	}
	return map[string]int{"self": os.Getuid()}
}

// idlingBoard is a four that idles for ever.
func idlingBoard() *engine.Engine {
	return engine.New(engine.Config{Bank: bank.Default(4), Seed: 20, Running: true})
}

var idlingOnce = sync.OnceValue(func() fakeboard.Recording { return fakeboard.FromEngine(idlingBoard(), 12, nil) })

// play has src sent over the line until the test ends; the returned function ends it sooner
// and tells how many bytes found no room.
func play(t *testing.T, l *fakeboard.Line, src io.Reader, pace fakeboard.Pace) (end func() int) {
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

// stamped is a line of output and when it came.
type stamped struct {
	text string
	at   time.Time
	line line // of a JSON line
}

// running is a run of the program that is watched while it lasts.
type running struct {
	t       *testing.T
	cmd     *exec.Cmd
	started time.Time
	out     chan stamped // standard output
	err     chan stamped // standard error
	said    *bytes.Buffer
	mu      *sync.Mutex // guards said
	ended   chan struct{}
}

// public is a copy of the program that every user can start.
var public = sync.OnceValue(func() string {
	os.Chmod(filepath.Dir(binary), 0o755)
	return binary
})

// start starts the program as that user, in a garage that the user can write to.
func start(t *testing.T, uid int, args ...string) *running {
	t.Helper()
	return startIn(t, uid, nil, args...)
}

// startIn starts the program as that user, who is also in those groups.
func startIn(t *testing.T, uid int, groups []uint32, args ...string) *running {
	t.Helper()
	garage, err := os.MkdirTemp("", "garage")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(garage) })
	r := &running{t: t, cmd: exec.Command(public(), args...), out: make(chan stamped, 100_000), err: make(chan stamped, 10_000),
		said: &bytes.Buffer{}, mu: &sync.Mutex{}, ended: make(chan struct{})}
	r.cmd.Dir = "/"
	r.cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+garage)
	if uid != os.Getuid() {
		if err := os.Chown(garage, uid, uid); err != nil {
			t.Fatal(err)
		}
		r.cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(uid), Groups: groups}}
	}
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	errOut, err := r.cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	r.started = time.Now()
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		r.cmd.Process.Kill()
		<-r.ended
	})
	var reading sync.WaitGroup
	reading.Go(func() { r.read(out, r.out) })
	reading.Go(func() { r.read(errOut, r.err) })
	go func() {
		reading.Wait()
		r.cmd.Wait()
		close(r.ended)
	}()
	return r
}

func (r *running) read(in io.Reader, to chan<- stamped) {
	defer close(to)
	for lines := bufio.NewReader(in); ; {
		text, err := lines.ReadString('\n')
		if err != nil {
			return
		}
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
}

// text is all that was said so far.
func (r *running) text() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.String()
}

// await returns the first line for which ok holds, from now on.
func (r *running) await(from <-chan stamped, what string, wait time.Duration, ok func(*stamped) bool) stamped {
	r.t.Helper()
	late := time.After(wait)
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
			r.t.Fatalf("%s did not come in %v; said:\n%s", what, wait, tail(r.text()))
		}
	}
}

// reading waits for a reading with a speed.
func (r *running) reading(wait time.Duration) stamped {
	r.t.Helper()
	return r.await(r.out, "a reading", wait, func(s *stamped) bool { return s.line.RPM != nil })
}

// status waits for the end and returns the exit status.
func (r *running) status(wait time.Duration) int {
	r.t.Helper()
	select {
	case <-r.ended:
		return r.cmd.ProcessState.ExitCode()
	case <-time.After(wait):
		r.t.Fatalf("the program did not end in %v; said:\n%s", wait, tail(r.text()))
	}
	return -1
}

// rest waits for the end and returns the last line of JSON.
func (r *running) rest(wait time.Duration) line {
	r.t.Helper()
	r.status(wait)
	var last line
	for s := range r.out {
		if strings.HasPrefix(s.text, "{") {
			last = s.line
		}
	}
	return last
}

func tail(s string) string { return s[max(0, len(s)-1500):] }
