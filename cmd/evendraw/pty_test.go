//go:build linux

package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"
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
	p.cmd.Env = append(append(os.Environ(), "TERM=xterm-256color", "LC_ALL=C.UTF-8", "NO_COLOR=", "EVENDRAW_GARAGE="+t.TempDir()), env...)
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	go func() {
		buf := make([]byte, 64<<10)
		for {
			n, err := mine.Read(buf)
			p.mu.Lock()
			p.out.Write(buf[:n])
			p.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
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
func (p *onPTY) await(text string, mark int, wait time.Duration) time.Time {
	p.t.Helper()
	for end := time.Now().Add(wait); time.Now().Before(end); time.Sleep(200 * time.Microsecond) {
		if strings.Contains(p.output()[mark:], text) {
			return time.Now()
		}
	}
	p.t.Fatalf("%q did not come in %v:\n%q", text, wait, p.output()[mark:])
	return time.Time{}
}

// gone waits for the program to end and checks that the terminal is as it was.
func (p *onPTY) gone(what string, within time.Duration, status int) {
	p.t.Helper()
	begun := time.Now()
	select {
	case <-p.ended:
	case <-time.After(5 * time.Second):
		p.t.Fatalf("%s: still there after 5 s", what)
	}
	if took := time.Since(begun); took > within {
		p.t.Errorf("%s: gone after %v, want within %v", what, took, within)
	}
	if got := p.cmd.ProcessState.ExitCode(); got != status {
		p.t.Errorf("%s: exit status %d, want %d:\n%q", what, got, status, last(p.output(), 400))
	}
	p.restored(what)
}

// restored checks that the terminal's settings are as before the program, and that it
// shows the main screen and the cursor.
func (p *onPTY) restored(what string) {
	p.t.Helper()
	if now, err := term.GetState(int(p.its.Fd())); err != nil || !reflect.DeepEqual(now, p.saved) {
		p.t.Errorf("%s: the terminal's settings are %+v, were %+v (%v)", what, now, p.saved, err)
	}
	time.Sleep(20 * time.Millisecond) // what was written last arrives
	out := p.output()
	if strings.LastIndex(out, "\x1b[?1049l") < strings.LastIndex(out, "\x1b[?1049h") {
		p.t.Errorf("%s: the other screen is left on", what)
	}
	if strings.LastIndex(out, "\x1b[?25h") < strings.LastIndex(out, "\x1b[?25l") {
		p.t.Errorf("%s: the cursor is left off", what)
	}
}

func last(s string, n int) string { return s[max(len(s)-n, 0):] }

// flood types as fast as the terminal takes it, until the program has ended.
func (p *onPTY) flood() {
	go func() {
		for {
			select {
			case <-p.ended:
				return
			default:
				p.mine.Write([]byte("uuuuuuuuuuuuuuuu\x1b[A\x1b[B"))
			}
		}
	}()
}

func TestEveryWayOutGivesTheTerminalBack(t *testing.T) {
	t.Parallel()
	signal := func(s os.Signal) func(*onPTY) { return func(p *onPTY) { p.cmd.Process.Signal(s) } }
	key := func(k string) func(*onPTY) { return func(p *onPTY) { p.mine.Write([]byte(k)) } }
	ended := 0
	for _, way := range []struct {
		name   string
		leave  func(*onPTY)
		status int
	}{
		{"q", key("q"), 0},
		{"Ctrl-C", key("\x03"), exitInterrupted},
		{"SIGTERM", signal(syscall.SIGTERM), exitInterrupted},
		{"SIGHUP", signal(syscall.SIGHUP), exitInterrupted},
		{"SIGINT", signal(os.Interrupt), exitInterrupted},
	} {
		for _, flooded := range []bool{false, true} {
			if flooded && way.status == 0 || flooded && way.name == "Ctrl-C" {
				continue // the key would wait behind the flood
			}
			p := startPTY(t, 100, 30, nil, binary, "live", "--practice")
			p.await("practice engine", 0, 5*time.Second)
			if flooded {
				p.flood()
				time.Sleep(100 * time.Millisecond)
			}
			way.leave(p)
			p.gone(fmt.Sprintf("%s, flood %v", way.name, flooded), time.Second, way.status)
			ended++
		}
	}
	t.Logf("count: %d ways out of the screen, the terminal given back within 1 s each time", ended)
}

// A terminal that is closed ends the program.
func TestAClosedTerminalEndsTheProgram(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0, 5*time.Second)
	begun := time.Now()
	p.its.Close()
	p.mine.Close()
	select {
	case <-p.ended:
	case <-time.After(5 * time.Second):
		t.Fatal("still there after 5 s")
	}
	if took := time.Since(begun); took > 1500*time.Millisecond {
		t.Errorf("gone after %v", took)
	}
}

// state is the process's, as the kernel names it: T is stopped.
func (p *onPTY) state() string {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		return ""
	}
	return strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))[0]
}

// Ctrl-Z, and the signal of the same meaning, give the terminal back until the program
// is called again.
func TestSuspend(t *testing.T) {
	t.Parallel()
	for _, by := range []string{"key", "signal"} {
		p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
		p.await("practice engine", 0, 5*time.Second)
		if by == "key" {
			p.mine.Write([]byte{26})
		} else {
			p.cmd.Process.Signal(syscall.SIGTSTP)
		}
		for end := time.Now().Add(time.Second); p.state() != "T"; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("%s: not stopped after a second, but %q", by, p.state())
			}
		}
		p.restored(by)
		mark := len(p.output())
		p.cmd.Process.Signal(syscall.SIGCONT)
		p.await("practice engine", mark, 2*time.Second)
		p.mine.Write([]byte("q"))
		p.gone(by+", then q", time.Second, 0)
	}
}

// A resize storm ends in the program drawing still, and leaving as it should.
func TestResizeStorm(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0, 5*time.Second)
	random := rand.New(rand.NewPCG(1, 2))
	const resizes = 1000
	for range resizes {
		pty.Setsize(p.mine, &pty.Winsize{Cols: uint16(1 + random.IntN(500)), Rows: uint16(1 + random.IntN(200))})
		time.Sleep(3 * time.Millisecond)
	}
	pty.Setsize(p.mine, &pty.Winsize{Cols: 1, Rows: 1})
	time.Sleep(100 * time.Millisecond)
	mark := len(p.output()) // before the size changes: the picture may be there at once
	pty.Setsize(p.mine, &pty.Winsize{Cols: 90, Rows: 27})
	p.await("Before the start", mark, 5*time.Second)
	p.mine.Write([]byte("q"))
	p.gone("after the storm", time.Second, 0)
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
		p.gone("panic in "+where, time.Second, status)
		out := p.output()
		text := strings.LastIndex(out, "out of order")
		if text < 0 || text < strings.LastIndex(out, "\x1b[?1049l") {
			t.Errorf("panic in %s: its text does not come after the terminal is given back:\n%q", where, last(out, 600))
		}
	}
}

// ticksPerSecond is the unit of the kernel's processor times: USER_HZ, 100 on Linux.
const ticksPerSecond = 100

// processor is how long the program has used a processor, in seconds.
func (p *onPTY) processor() float64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		p.t.Fatal(err)
	}
	f := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	user, _ := strconv.Atoi(f[11])
	system, _ := strconv.Atoi(f[12])
	return float64(user+system) / ticksPerSecond
}

// mostShare of a core is what the whole program may take beside the practice engine:
// 3 % for the screen, the rest for engine and stages.
const mostShare = 0.05

// The first picture comes soon, keys are answered soon, and twenty pictures a second
// cost little.
func TestTheScreenIsQuick(t *testing.T) {
	first, answer := time.Hour, time.Hour
	var p *onPTY
	for range 5 {
		p = startPTY(t, 120, 40, nil, binary, "live", "--practice")
		first = min(first, p.await("Before the start", 0, 5*time.Second).Sub(p.begun))
	}
	for range 10 {
		mark := len(p.output())
		begun := time.Now()
		p.mine.Write([]byte("?"))
		answer = min(answer, p.await("closes", mark, 2*time.Second).Sub(begun))
		p.mine.Write([]byte("?"))
		time.Sleep(60 * time.Millisecond)
	}
	p.mine.Write([]byte("oge")) // the levelling view, with the engine running
	time.Sleep(4 * time.Second)
	before, mark, begun := p.processor(), len(p.output()), time.Now()
	time.Sleep(5 * time.Second)
	share := (p.processor() - before) / time.Since(begun).Seconds()
	bytes := len(p.output()) - mark
	t.Logf("first picture after %v, a key answered after %v, %.1f %% of a core with the engine and the stages, %d bytes a second", first, answer, 100*share, bytes/5)
	if first > 100*time.Millisecond || answer > 50*time.Millisecond {
		t.Errorf("first picture after %v, key answered after %v", first, answer)
	}
	if share > mostShare {
		t.Errorf("%.1f %% of a core", 100*share)
	}
}
