package cli

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// The program as a process of its own, with a fake board on a pty at its other end. What only
// that can show is tested here: that things happen, and in which order; how soon is looked at
// on a quiet machine.

const nobody = 65534

// users are those to try as: oneself, and with root's rights an ordinary one.
func users() map[string]int {
	if os.Getuid() == 0 {
		return map[string]int{"root": 0, "nobody": nobody}
	}
	return map[string]int{"self": os.Getuid()}
}

// process is a run of the program as a process of its own.
type process struct {
	*running
	cmd *exec.Cmd
}

// public is a copy of the program that every user can start.
var public = sync.OnceValue(func() string {
	for dir := filepath.Dir(binary); len(dir) > len(os.TempDir()); dir = filepath.Dir(dir) {
		os.Chmod(dir, 0o755)
	}
	return binary
})

// start starts the program as that user, in a garage that the user can write to.
func start(t *testing.T, uid int, args ...string) *process {
	t.Helper()
	return startIn(t, uid, nil, args...)
}

// startIn starts the program as that user, who is also in those groups.
func startIn(t *testing.T, uid int, groups []uint32, args ...string) *process {
	t.Helper()
	garage, err := os.MkdirTemp("", "garage")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(garage) })
	r := &process{running: newRunning(t), cmd: exec.Command(public(), args...)}
	r.cmd.Dir = "/"
	r.cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+garage)
	if uid != os.Getuid() {
		if err := os.Chown(garage, uid, uid); err != nil {
			t.Fatal(err)
		}
		r.cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(uid),
			Groups: groups}}
	}
	return r.launch()
}

// launch starts the process, which ends with the test.
func (r *process) launch() *process {
	r.t.Helper()
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	errOut, err := r.cmd.StderrPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	r.started = time.Now()
	if err := r.cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() {
		r.cmd.Process.Kill()
		<-r.ended
	})
	var reading sync.WaitGroup
	reading.Go(func() { r.read(out, r.out) })
	reading.Go(func() { r.read(errOut, r.err) })
	go func() {
		reading.Wait()
		r.cmd.Wait()
		r.code = r.cmd.ProcessState.ExitCode()
		close(r.ended)
	}()
	return r
}

// holds waits until the process has the port at path open twice: to claim it, and by the library.
func (r *process) holds(path string) {
	r.t.Helper()
	dir := fmt.Sprintf("/proc/%d/fd", r.cmd.Process.Pid)
	eventually(r.t, "the program opens "+path, func() bool {
		entries, _ := os.ReadDir(dir)
		n := 0
		for _, e := range entries {
			if to, err := os.Readlink(filepath.Join(dir, e.Name())); err == nil && to == path {
				n++
			}
		}
		return n == 2
	})
}

// eventually waits until ok holds.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for begun := time.Now(); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Since(begun) > effort.Hang {
			t.Fatalf("it did not come to pass: %s", what)
		}
	}
}

// processState is the process's, as the kernel names it: T is stopped.
func processState(pid int) string {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return ""
	}
	return strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))[0]
}

// usage is the number of open files and the memory in use, in kB.
func (r *process) usage() (files, kilobytes int) {
	r.t.Helper()
	dir := fmt.Sprintf("/proc/%d/", r.cmd.Process.Pid)
	entries, err := os.ReadDir(dir + "fd")
	if err != nil {
		r.t.Fatal(err)
	}
	status, err := os.ReadFile(dir + "status")
	if err != nil {
		r.t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(status), "VmRSS:")
	fmt.Sscan(after, &kilobytes)
	return len(entries), kilobytes
}
