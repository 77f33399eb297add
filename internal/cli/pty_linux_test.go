//go:build linux

package cli

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
)

// onPTY is the program on a pseudo-terminal, whose other end we hold.
type onPTY struct {
	t     *testing.T
	cmd   *exec.Cmd
	mine  *os.File // the master
	its   *os.File // the slave, kept open
	saved *term.State
	ended chan struct{}
	begun time.Time

	mu  sync.Mutex
	out bytes.Buffer
}

// listen keeps what the program writes until the master is closed. It reads when there is
// something: a file that is being read would not be closed before that.
func (p *onPTY) listen() {
	buf := make([]byte, 64<<10)
	conn, err := p.mine.SyscallConn()
	for err == nil {
		ready := 0
		err = conn.Control(func(fd uintptr) {
			ready, _ = unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, 20)
		})
		if ready == 0 {
			continue
		}
		n, err := p.mine.Read(buf)
		p.mu.Lock()
		p.out.Write(buf[:n])
		p.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// startPTY runs a program in a terminal of that size. Of the environment, TERM and the
// letters are set.
func startPTY(t *testing.T, width, height uint16, env []string, program string, args ...string) *onPTY {
	t.Helper()
	mine, its, err := pty.Open()
	if err != nil {
		t.Skipf("no pseudo-terminal: %v", err)
	}
	p := &onPTY{t: t, mine: mine, its: its, ended: make(chan struct{})}
	pty.Setsize(mine, &pty.Winsize{Cols: width, Rows: height})
	if p.saved, err = term.GetState(int(its.Fd())); err != nil {
		t.Fatal(err)
	}
	p.cmd = exec.Command(program, args...)
	p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = its, its, its
	p.cmd.Env = append(append(os.Environ(), "TERM=xterm-256color", "LC_ALL=C.UTF-8", "NO_COLOR=",
		"EVENDRAW_GARAGE="+t.TempDir()), env...)
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	go p.listen()
	p.begun = time.Now()
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		p.cmd.Wait()
		close(p.ended)
	}()
	t.Cleanup(func() {
		p.cmd.Process.Kill()
		<-p.ended
		mine.Close()
		its.Close()
	})
	return p
}

func (p *onPTY) output() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.out.String()
}

// await waits until text has come since mark, and returns when it was seen.
func (p *onPTY) await(text string, mark int) time.Time {
	p.t.Helper()
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(200 * time.Microsecond) {
		if strings.Contains(p.output()[mark:], text) {
			return time.Now()
		}
	}
	p.t.Fatalf("%q did not come:\n%q", text, p.output()[mark:])
	return time.Time{}
}

// gone waits for the program to end, checks that the terminal is as it was, and returns how
// long that took.
func (p *onPTY) gone(what string, status int) time.Duration {
	p.t.Helper()
	begun := time.Now()
	select {
	case <-p.ended:
	case <-time.After(effort.Hang):
		p.t.Fatalf("%s: still there", what)
	}
	took := time.Since(begun)
	if got := p.cmd.ProcessState.ExitCode(); got != status {
		p.t.Errorf("%s: exit status %d, want %d:\n%q", what, got, status, last(p.output(), 400))
	}
	p.restored(what)
	return took
}

// restored checks that the terminal's settings are as before the program, and that it
// shows the main screen and the cursor.
func (p *onPTY) restored(what string) {
	p.t.Helper()
	if now, err := term.GetState(int(p.its.Fd())); err != nil || !reflect.DeepEqual(now, p.saved) {
		p.t.Errorf("%s: the terminal's settings are %+v, were %+v (%v)", what, now, p.saved, err)
	}
	out := p.whole()
	if strings.LastIndex(out, "\x1b[?1049l") < strings.LastIndex(out, "\x1b[?1049h") {
		p.t.Errorf("%s: the other screen is left on", what)
	}
	if strings.LastIndex(out, "\x1b[?25h") < strings.LastIndex(out, "\x1b[?25l") {
		p.t.Errorf("%s: the cursor is left off", what)
	}
}

// whole is all that was written so far: what the test writes itself, after it, has come.
func (p *onPTY) whole() string {
	p.t.Helper()
	mark := fmt.Sprintf("<%d bytes so far>", len(p.output()))
	if _, err := p.its.WriteString(mark); err != nil {
		p.t.Fatal(err)
	}
	p.await(mark, 0)
	out, _, _ := strings.Cut(p.output(), mark)
	return out
}

func last(s string, n int) string { return s[max(len(s)-n, 0):] }

// flood types as fast as the terminal takes it, until the program has ended; it returns when
// the program has taken some.
func (p *onPTY) flood() {
	typed := make(chan struct{})
	go func() {
		for n := 0; ; n++ {
			if n == 1000 { // far more than the terminal keeps
				close(typed)
			}
			select {
			case <-p.ended:
				return
			default:
				p.mine.Write([]byte("uuuuuuuuuuuuuuuu\x1b[A\x1b[B"))
			}
		}
	}()
	select {
	case <-typed:
	case <-p.ended:
		p.t.Fatalf("the keys ended the program:\n%q", last(p.output(), 400))
	case <-time.After(effort.Hang):
		p.t.Fatal("the program takes no keys")
	}
}

// wayOut is a way to leave the screen.
type wayOut struct {
	name    string
	leave   func(*onPTY)
	status  int
	flooded bool // with keys
}

// take starts the program so, leaves it this way, and returns how long that took.
func (w *wayOut) take(t *testing.T, args ...string) time.Duration {
	t.Helper()
	p := startPTY(t, 100, 30, nil, binary, args...)
	if slices.Contains(args, "--practice") {
		p.await("Before the start", 0)
		p.mine.WriteString("e") // starts the engine
	}
	shown := "steady"                        // stands beside the speed only once there are cycles
	if slices.Contains(args, "--practice") { // whose engine stands still
		shown = "rpm"
	}
	p.await(shown, 0)
	if w.flooded {
		p.flood()
	}
	w.leave(p)
	took := p.gone(w.name, w.status)
	t.Logf("%s: %v", w.name, took)
	return took
}

// waysOut are all there are.
func waysOut() []wayOut {
	signal := func(s os.Signal) func(*onPTY) { return func(p *onPTY) { p.cmd.Process.Signal(s) } }
	key := func(k string) func(*onPTY) { return func(p *onPTY) { p.mine.Write([]byte(k)) } }
	return []wayOut{
		{"q", key("q"), 0, false},
		{"Ctrl-C", key("\x03"), exitInterrupted, false},
		{"SIGTERM", signal(syscall.SIGTERM), exitInterrupted, false},
		{"SIGHUP", signal(syscall.SIGHUP), exitInterrupted, false},
		{"SIGINT", signal(os.Interrupt), exitInterrupted, false},
		{"SIGTERM, flooded with keys", signal(syscall.SIGTERM), exitInterrupted, true},
		{"SIGHUP, flooded with keys", signal(syscall.SIGHUP), exitInterrupted, true},
		{"SIGINT, flooded with keys", signal(os.Interrupt), exitInterrupted, true},
		{"q, flooded with keys", key("q"), 0, true},
		{"Ctrl-C, flooded with keys", key("\x03"), exitInterrupted, true},
	}
}

func TestEveryWayOutGivesTheTerminalBack(t *testing.T) {
	t.Parallel()
	slowest := allWaysOut(t)
	t.Logf("count: %d ways out of the screen, the terminal given back within %d ms", len(waysOut())*effort.Of(1, 2)/2,
		slowest.Milliseconds())
}

// allWaysOut leaves the practice engine in every way, in a plain run in each flooded one, and returns how long the
// slowest took.
func allWaysOut(t *testing.T) (slowest time.Duration) {
	for _, w := range waysOut() {
		if !effort.Whole() && !w.flooded {
			continue
		}
		slowest = max(slowest, w.take(t, "live", "--practice"))
	}
	return slowest
}

// Row 26: however a run of a board is left, its port is free and its capture can be read.
func TestEveryWayOutLeavesPortAndCapture(t *testing.T) {
	t.Parallel()
	ways := waysOut()
	if !effort.Whole() {
		ways = ways[len(ways)-2:]
	}
	for _, w := range ways {
		line := fakeboard.NewLine(t)
		end := play(t, line, idlingBoard(), patient)
		kept := filepath.Join(t.TempDir(), "kept.cap")
		w.take(t, "live", "--port", line.Path, "--at", "level", "--capture", kept)
		its, err := os.OpenFile(line.Path, os.O_RDWR|syscall.O_NOCTTY, 0)
		if err != nil {
			t.Fatalf("%s: the port is not free: %v", w.name, err)
		}
		if err := syscall.Flock(int(its.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
			t.Errorf("%s: the port is still held: %v", w.name, err)
		}
		its.Close()
		end()
		if got := evendraw(t, t.TempDir(), "analyse", "--json", kept); got.status != 0 {
			t.Errorf("%s: the capture: status %d, %s", w.name, got.status, got.err)
		}
	}
	t.Logf("count: %d ways out of a run with a board, its port free and its capture whole", len(ways))
}

// A terminal that is closed ends the program.
func TestAClosedTerminalEndsTheProgram(t *testing.T) {
	t.Parallel()
	closedTerminal(t)
}

// closedTerminal returns how long the program takes to end once its terminal is closed.
func closedTerminal(t *testing.T) time.Duration {
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0)
	begun := time.Now()
	p.its.Close()
	p.mine.Close()
	select {
	case <-p.ended:
	case <-time.After(effort.Hang):
		t.Fatal("still there")
	}
	return time.Since(begun)
}

// On a quiet machine within a second and a half.
func TestQuietClosedTerminal(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		return []effort.Figure{effort.Millis("gone with its terminal", closedTerminal(t), 1500*time.Millisecond)}
	})
}

// Ctrl-Z, and the signal of the same meaning, give the terminal back until the program
// is called again.
func TestSuspend(t *testing.T) {
	t.Parallel()
	for _, by := range []string{"key", "signal"} {
		p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
		p.await("practice engine", 0)
		if by == "key" {
			p.mine.Write([]byte{26})
		} else {
			p.cmd.Process.Signal(syscall.SIGTSTP)
		}
		eventually(t, by+" stops it", func() bool { return processState(p.cmd.Process.Pid) == "T" })
		p.restored(by)
		mark := len(p.output())
		p.cmd.Process.Signal(syscall.SIGCONT)
		p.await("practice engine", mark)
		p.mine.Write([]byte("q"))
		p.gone(by+", then q", 0)
	}
}

// A resize storm ends in the program drawing still, at the size that came last, and leaving as
// it should.
func TestResizeStorm(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0)
	random := rand.New(rand.NewPCG(1, 2))
	resizes := effort.Of(200, 1000)
	for range resizes {
		pty.Setsize(p.mine, &pty.Winsize{Cols: uint16(1 + random.IntN(500)), Rows: uint16(1 + random.IntN(200))})
		time.Sleep(time.Millisecond) // so that it sees many of them; how many matters not
	}
	pty.Setsize(p.mine, &pty.Winsize{Cols: 90, Rows: 27})
	mark := len(p.output())
	p.mine.Write([]byte("?")) // a page that no picture before it has shown
	p.await("closes", mark)
	p.mine.Write([]byte("?q"))
	p.gone("after the storm", 0)
	t.Logf("count: %d resizes of the terminal, drawn right after them", resizes)
}

// Panics give the terminal back before their text is printed.
func TestPanicsGiveTheTerminalBack(t *testing.T) {
	t.Parallel()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for where, status := range map[string]int{"read": exitFailed, "draw": 2} {
		p := startPTY(t, 80, 24, []string{panicEnv + "=" + where}, self)
		p.gone("panic in "+where, status)
		out := p.whole()
		text := strings.LastIndex(out, "out of order")
		if text < 0 || text < strings.LastIndex(out, "\x1b[?1049l") {
			t.Errorf("panic in %s: its text does not come after the terminal is given back:\n%q", where, last(out, 600))
		}
	}
}

// termios are the terminal's settings in words.
func termios(t *testing.T, p *onPTY) string {
	t.Helper()
	s, err := term.GetState(int(p.its.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%+v", s)
}

// restoreState puts the terminal's settings back as a shell does.
func restoreState(t *testing.T, p *onPTY) {
	t.Helper()
	if err := term.Restore(int(p.its.Fd()), p.saved); err != nil {
		t.Fatal(err)
	}
}
