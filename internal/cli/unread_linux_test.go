package cli

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/invented"
)

// asOther is the program in a folder that everybody may enter, run with other rights than root's.
type asOther struct {
	program, dir string
	uid          int
}

func newAsOther(t *testing.T) *asOther {
	t.Helper()
	const nobody = 65534
	o := &asOther{uid: os.Getuid()}
	if o.uid == 0 {
		o.uid = nobody
	}
	var err error
	if o.dir, err = os.MkdirTemp("", "evendraw-other"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(o.dir) })
	text, err := os.ReadFile(binary)
	if err != nil {
		t.Fatal(err)
	}
	o.program = filepath.Join(o.dir, filepath.Base(binary))
	if err := os.WriteFile(o.program, text, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(o.dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return o
}

// own gives all files to who runs the program.
func (o *asOther) own(t *testing.T) {
	t.Helper()
	if err := filepath.Walk(o.dir, func(path string, _ os.FileInfo, err error) error {
		if err != nil {
			return err
		}
		return os.Chown(path, o.uid, -1)
	}); err != nil {
		t.Fatal(err)
	}
}

func (o *asOther) run(t *testing.T, args ...string) (r result) {
	t.Helper()
	cmd := exec.Command(o.program, append(args, "--garage", filepath.Join(o.dir, "garage"))...)
	var out, errOut bytes.Buffer
	cmd.Dir, cmd.Stdout, cmd.Stderr = o.dir, &out, &errOut
	if os.Getuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(o.uid), Gid: uint32(o.uid)}}
	}
	if err := cmd.Run(); cmd.ProcessState == nil {
		t.Fatal(err)
	}
	return result{out.String(), errOut.String(), cmd.ProcessState.ExitCode()}
}

// twinOfAnother is a garage with a twin, whose files are another's once he is to own them.
func twinOfAnother(t *testing.T) (*asOther, *garage.Garage, *garage.Bike) {
	t.Helper()
	o := newAsOther(t)
	g := invented.Garage(t, filepath.Join(o.dir, "garage"))
	bike := invented.Bike(t, g, "twin", 2)
	return o, g, &bike
}

// Bench cards, and the folder of the bikes, without the right to read them are not called none.
func TestListsWithoutTheRightToReadThem(t *testing.T) {
	t.Parallel()
	o, g, bike := twinOfAnother(t)
	card := garage.NewBenchCard(&bike.Bank, garage.BenchApart)
	shut, err := g.SaveBench("twin", &card)
	if err != nil {
		t.Fatal(err)
	}
	o.own(t)
	if err := os.Chmod(shut, 0); err != nil {
		t.Fatal(err)
	}
	for _, verb := range []string{"list", "show", "compare"} {
		r := o.run(t, "bench", verb, "--bike", "twin")
		if r.status != exitDenied || strings.Contains(r.out+r.err, "no bench card") {
			t.Errorf("bench %s: status %d\n%s%s", verb, r.status, r.out, r.err)
		}
	}
	if err := os.Chmod(filepath.Join(o.dir, "garage", "bikes"), 0); err != nil {
		t.Fatal(err)
	}
	if r := o.run(t, "bike", "list"); r.status != exitDenied || r.out != "" {
		t.Errorf("bike list: status %d\n%s%s", r.status, r.out, r.err)
	}
}

// A record without the right to read it is not called damaged; what is listed or written without it, or without a
// damaged one, says so with its exit status.
func TestARecordWithoutTheRightToReadIt(t *testing.T) {
	t.Parallel()
	o, g, _ := twinOfAnother(t)
	var paths []string
	for range 3 {
		path, err := g.SaveSync("twin", &garage.SyncRecord{Reference: 1, Unit: "kPa", Verdict: garage.VerdictSaved})
		if err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	o.own(t)
	if err := os.Chmod(paths[1], 0); err != nil {
		t.Fatal(err)
	}
	verbs := map[string][]string{"history": {"history", "--bike", "twin"}, "export": {"export"},
		"trend": {"trend", "--bike", "twin"}, "check": {"garage", "check", "--look-only"}}
	all := func(status int, says ...string) {
		t.Helper()
		for name, args := range verbs {
			r := o.run(t, args...)
			for _, text := range says {
				if r.status != status || !strings.Contains(r.err, text) {
					t.Errorf("%s: status %d, want %d and %q:\n%s%s", name, r.status, status, text, r.out, r.err)
				}
			}
		}
	}
	all(exitDenied, "one file you have no right to read", "sudo chown -R")
	r := o.run(t, verbs["check"]...)
	if !strings.Contains(r.out, "3 files read, 0 damaged, 1 not read, for want of the right to\n") {
		t.Errorf("check: %s", r.out)
	}
	if r := o.run(t, "history", "show", "2", "--bike", "twin"); r.status != exitDenied {
		t.Errorf("show: status %d: %s", r.status, r.err)
	}
	text, err := os.ReadFile(paths[2])
	if err != nil {
		t.Fatal(err)
	}
	text[20] ^= 1
	if err := os.WriteFile(paths[2], text, 0o600); err != nil {
		t.Fatal(err)
	}
	all(exitDamaged, "one file is damaged, one file you have no right to read")
	if r := o.run(t, "export"); strings.Count(r.out, "\n") < 2 {
		t.Errorf("what can be read is not exported: %q", r.out)
	}
}
