package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"evendraw/internal/effort"
)

// Every verb that may wait ends when it is asked to, whatever it waits for.

// awaitWaiting waits until a program waits: it has taken what its standard input holds, opened the pipe
// that it is to read, or said something.
func awaitWaiting(t *testing.T, args []string, in *os.File, fifo string, said *os.File) (writer *os.File) {
	t.Helper()
	line := strings.Join(args, " ")
	switch {
	case strings.Contains(line, fifo):
		eventually(t, line+" opens the pipe", func() (ok bool) {
			var err error
			writer, err = os.OpenFile(fifo, os.O_WRONLY|syscall.O_NONBLOCK, 0)
			return err == nil
		})
	case slices.Contains(args, "-"):
		in.WriteString("# ")
		eventually(t, line+" reads", func() bool {
			n := int32(-1)
			syscall.Syscall(syscall.SYS_IOCTL, in.Fd(), syscall.TIOCINQ, uintptr(unsafe.Pointer(&n)))
			return n == 0
		})
	default:
		said.Read(make([]byte, 1))
	}
	return writer
}

// waitingVerbs wait for bytes that don't come, or for the clock. FIFO stands for a pipe nobody writes to.
var waitingVerbs = [][]string{
	{"analyse", "-"}, {"analyse", "FIFO"}, {"analyse", "FIFO", "--json"}, {"replay", "FIFO"}, {"replay", "-"},
	{"zero", "--from", "FIFO"}, {"zero", "--from", "-"}, {"match", "--from", "FIFO"}, {"board", "check", "-"},
	{"live", "--practice"}, {"live", "--practice", "--headless", "--json"}, {"record", "--practice", "FILE"},
	{"mixture", "--practice"}, {"mixture", "raised", "--practice"}, {"board", "setup", "--practice"},
}

// endVerbs sends the signal to each verb, and returns how long the slowest took.
func endVerbs(t *testing.T, signals ...syscall.Signal) (ends int, slowest time.Duration) {
	for _, verb := range waitingVerbs {
		for _, s := range signals {
			dir := t.TempDir()
			fifo := filepath.Join(dir, "fifo")
			if err := syscall.Mkfifo(fifo, 0o600); err != nil {
				t.Fatal(err)
			}
			args := strings.Fields(strings.NewReplacer("FIFO", fifo, "FILE", filepath.Join(dir, "c.cap")).Replace(
				strings.Join(verb, " ")))
			cmd := exec.Command(binary, append(args, "--garage", dir)...)
			its, in, err := os.Pipe() // stays open, and empty
			said, says, err2 := os.Pipe()
			if err := errors.Join(err, err2); err != nil {
				t.Fatal(err)
			}
			cmd.Stdin, cmd.Stdout, cmd.Stderr = its, says, says
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			says.Close()
			ended := make(chan struct{})
			go func() { cmd.Wait(); close(ended) }()
			writer := awaitWaiting(t, args, in, fifo, said)
			go io.Copy(io.Discard, said)
			begun := time.Now()
			cmd.Process.Signal(s)
			select {
			case <-ended:
			case <-time.After(effort.Hang):
				t.Errorf("%v, %v: still there", verb, s)
				cmd.Process.Kill()
				<-ended
			}
			for _, f := range []*os.File{its, in, said, writer} {
				f.Close()
			}
			if code := cmd.ProcessState.ExitCode(); code != exitInterrupted {
				t.Errorf("%v, %v: exit status %d", verb, s, code)
			}
			ends, slowest = ends+1, max(slowest, time.Since(begun))
		}
	}
	return ends, slowest
}

func TestEveryVerbEndsOnSignals(t *testing.T) {
	t.Parallel()
	signals := []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}
	if !effort.Whole() {
		signals = signals[:1]
	}
	ends, slowest := endVerbs(t, signals...)
	t.Logf("count: %d ends of a verb by a signal, within %d ms", ends, slowest.Milliseconds())
}

// On a quiet machine within a second.
func TestQuietVerbsEnd(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		_, slowest := endVerbs(t, syscall.SIGTERM)
		return []effort.Figure{effort.Millis("a verb ended by a signal", slowest, time.Second)}
	})
}

// The signal that prints where each goroutine is gives the terminal back first.
func TestQuitSignalGivesTheTerminalBack(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0)
	p.cmd.Process.Signal(syscall.SIGQUIT)
	p.gone("SIGQUIT", 2)
	if out := p.whole(); strings.LastIndex(out, "goroutine ") < strings.LastIndex(out, "\x1b[?1049l") {
		t.Errorf("the goroutines are printed before the terminal is given back")
	}
}

// A program that was stopped by others, whose shell has put the terminal right, takes it again when it
// goes on, and draws.
func TestStoppedByOthers(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 80, 24, nil, binary, "live", "--practice")
	p.await("practice engine", 0)
	raw := termios(t, p)
	p.cmd.Process.Signal(syscall.SIGSTOP)
	eventually(t, "it stops", func() bool { return processState(p.cmd.Process.Pid) == "T" })
	restoreState(t, p)
	mark := len(p.output())
	p.cmd.Process.Signal(syscall.SIGCONT)
	p.await("\x1b[?1049h", mark)
	p.await("practice engine", mark)
	eventually(t, "the terminal is raw again", func() bool { return termios(t, p) == raw })
	p.mine.Write([]byte("q"))
	p.gone("stopped by others, then q", 0)
}

// A size in the environment that no terminal has is left aside.
func TestWrongSizeInTheEnvironment(t *testing.T) {
	t.Parallel()
	for _, env := range [][]string{{"LINES=-1"}, {"COLUMNS=-7", "LINES=0"}, {"LINES=2000000000"}, {"COLUMNS=x"}} {
		p := startPTY(t, 80, 24, env, binary, "live", "--practice")
		p.await("practice engine", 0)
		p.mine.Write([]byte("q"))
		p.gone(env[0], 0)
	}
}

// Our own terminal is no board's port: it is refused, and left as it is.
func TestOwnTerminalIsNoPort(t *testing.T) {
	t.Parallel()
	for _, verb := range []string{"record", "zero", "live --headless", "board check"} {
		for _, own := range []string{"/dev/tty", "/proc/self/fd/0"} {
			p := startPTY(t, 80, 24, nil, binary, append(strings.Fields(verb), "--port", own)...)
			p.gone(verb, exitFailed)
			if out := p.whole(); !strings.Contains(strings.Join(strings.Fields(out), " "),
				"the terminal that this program runs in") {
				t.Errorf("%s --port %s: %q", verb, own, out)
			}
		}
	}
}

// Standard output that can't be written to is a failure, whatever the verb.
func TestFullStandardOutput(t *testing.T) {
	t.Parallel()
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("no /dev/full here")
	}
	t.Cleanup(func() { full.Close() })
	dir := t.TempDir()
	if r := evendraw(t, dir, "bike", "new", "my four", "--cylinders", "4"); r.status != 0 {
		t.Fatal(r.err)
	}
	for row, verb := range []string{"paths", "paths --json", "bike list", "bike list --json", "bike show",
		"board kind", "history", "history unfinished", "export", "export --schema", "garage check", "garage compress",
		"garage check --json", "trend", "--help", "live --help", "--version", "completion bash", "bench list",
		"bench check --json", "board check --practice", "zero --practice", "live --practice --headless",
		"live --practice --headless --json", "mixture --practice --fast --auto",
		"mixture gas --co 0.5 --co2 14.2 --hc 120 --o2 0.6"} {
		t.Run(verb, func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 2)
			cmd := exec.Command(binary, append(strings.Fields(verb), "--garage", dir)...)
			cmd.Stdout = full
			var said strings.Builder
			cmd.Stderr = &said
			cmd.Run()
			if code := cmd.ProcessState.ExitCode(); code != exitFailed ||
				!strings.Contains(said.String(), "no space left") {
				t.Errorf("exit status %d, %s", code, said.String())
			}
		})
	}
}

// A file that the user names is whole, or as it was: the disk is full in the middle of it.
func TestAFullDiskLeavesTheOlderFile(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 20) // more than the disk takes
	bike := []string{"--bike", "Invented Four"}
	for ending, verb := range map[string]string{".csv": "export --overwrite --out", ".html": "sheet --overwrite --out",
		".png": "sheet --overwrite --png"} {
		out := filepath.Join(dir, "out"+ending)
		write(t, out, "older\n")
		line := fmt.Sprintf("trap '' XFSZ; cd %q; ulimit -f 1; exec %q --garage %q --bike %q %s out%s", dir, binary,
			dir, bike[1], verb, ending)
		if ending == ".png" {
			line += " --out /dev/null"
		}
		said, err := exec.Command("bash", "-c", line).CombinedOutput()
		text, _ := os.ReadFile(out)
		if err == nil || string(text) != "older\n" || !strings.Contains(string(said), "nothing is changed") {
			t.Errorf("%v: %v, %q is left, said %s", verb, err, text[:min(len(text), 40)], said)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, ".*tmp")); len(left) > 0 {
			t.Errorf("%v: left %v", verb, left)
		}
	}
	// What is no plain file is written to as it is.
	if r := evendraw(t, dir, append(bike, "export", "--out", "/dev/null")...); r.status != 0 {
		t.Errorf("/dev/null: %s", r.err)
	}
	if info, err := os.Stat("/dev/null"); err != nil || info.Mode().IsRegular() {
		t.Fatal("/dev/null has become a file")
	}
}
