package board

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
)

const (
	roleVariable = "BOARD_TEST_ROLE"
	nobody       = 65534
)

// TestMain lets the test binary play a second process on a port.
func TestMain(m *testing.M) {
	role := os.Getenv(roleVariable)
	if role == "" {
		os.Exit(m.Run())
	}
	playRole(role, os.Args[1])
}

// outcome is what a second process reports of its attempt to open a port.
type outcome struct {
	Kind   string
	Holder int
	Group  string
	Text   string
	Hint   string
	Took   time.Duration
}

func playRole(role, path string) {
	switch role {
	case "try":
		start := time.Now()
		link, err := Open(context.Background(), path, Options{Baud: 500_000, Wait: effort.Hang})
		o := outcome{Kind: "none", Took: time.Since(start)}
		var e *Error
		if errors.As(err, &e) {
			o = outcome{e.Kind.String(), e.Holder, e.Group, e.Error(), e.Hint(), o.Took}
		}
		if link != nil {
			link.Close()
		}
		json.NewEncoder(os.Stdout).Encode(o)
	case "hold":
		link, err := Open(context.Background(), path, Options{Baud: 500_000, Wait: effort.Hang})
		fmt.Println("ready", err)
		io.Copy(io.Discard, link)
	case "exclusive":
		f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOCTTY, 0)
		if err == nil {
			err = ioctl(int(f.Fd()), syscall.TIOCEXCL, nil)
		}
		fmt.Println("ready", err)
		time.Sleep(2 * effort.Hang)
	}
}

// second prepares the test binary as another process on path, as user uid.
func second(t *testing.T, role, path string, uid int) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if uid != os.Getuid() {
		if os.Getuid() != 0 {
			t.Skip("changing the user needs root")
		}
		program = publicCopy(t, program)
	}
	cmd := exec.Command(program, path)
	cmd.Dir = "/"
	// The race detector sleeps a second at the end unless told not to.
	cmd.Env = append(os.Environ(), roleVariable+"="+role, "GORACE=atexit_sleep_ms=0")
	cmd.Stderr = os.Stderr
	if uid != os.Getuid() {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(uid)}}
	}
	return cmd
}

// publicCopy copies a program to where every user can start it.
func publicCopy(t *testing.T, program string) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "board")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	b, err := os.ReadFile(program)
	if err != nil {
		t.Fatal(err)
	}
	program = filepath.Join(dir, "second")
	if err := errors.Join(os.WriteFile(program, b, 0o755), os.Chmod(dir, 0o755)); err != nil {
		t.Fatal(err)
	}
	return program
}

// tries lets another process try to open path and returns what came of it.
func tries(t *testing.T, path string, uid int) outcome {
	t.Helper()
	out, err := second(t, "try", path, uid).Output()
	if err != nil {
		t.Fatal(err)
	}
	var o outcome
	if err := json.Unmarshal(out, &o); err != nil {
		t.Fatalf("%v in %q", err, out)
	}
	return o
}

// holds starts another process that keeps path open, and waits until it does.
func holds(t *testing.T, role, path string, uid int) *exec.Cmd {
	t.Helper()
	cmd := second(t, role, path, uid)
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { kill(cmd) })
	if line, _ := bufio.NewReader(out).ReadString('\n'); line != "ready <nil>\n" {
		t.Fatalf("second process: %q", line)
	}
	return cmd
}

func kill(cmd *exec.Cmd) {
	cmd.Process.Kill()
	cmd.Wait()
}

// open opens path, which must succeed.
func open(t *testing.T, path string) *Link {
	t.Helper()
	link, err := Open(t.Context(), path, Options{Baud: 500_000, Wait: effort.Hang})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { link.Close() })
	return link
}
