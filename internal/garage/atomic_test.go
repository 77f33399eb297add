package garage

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/store"
)

// failing is a file system whose calls can be made to fail.
type failing struct {
	store.Disk
	calls  int
	failAt int   // from 1; 0 is never
	sticky bool  // all calls after failAt fail as well
	spare  bool  // remove never fails
	err    error // that a failing call returns
	failed int
	last   string // the last call that failed
	retry  bool   // a file was synced again after that had failed
	die    bool   // the call does not fail, but this program is killed there
}

func (f *failing) fail(name string) error {
	f.calls++
	if f.failAt > 0 && (f.calls == f.failAt || f.sticky && f.calls > f.failAt) && !(f.spare && name == "remove") {
		if f.die {
			killSelf()
		}
		f.failed, f.last = f.failed+1, name
		return &fs.PathError{Op: name, Path: "somewhere", Err: f.err}
	}
	return nil
}

func (f *failing) Create(path string, perm fs.FileMode) (store.File, error) {
	if err := f.fail("create"); err != nil {
		return nil, err
	}
	made, err := f.Disk.Create(path, perm)
	if err != nil {
		return nil, err
	}
	return &failingFile{made, f, false}, nil
}

func (f *failing) Rename(from, to string) error {
	if err := f.fail("rename"); err != nil {
		return err
	}
	return f.Disk.Rename(from, to)
}

func (f *failing) Remove(path string) error {
	if err := f.fail("remove"); err != nil {
		return err
	}
	return f.Disk.Remove(path)
}

func (f *failing) Mkdir(path string) error {
	if err := f.fail("mkdir"); err != nil {
		return err
	}
	return f.Disk.Mkdir(path)
}

func (f *failing) SyncDir(path string) error {
	if err := f.fail("syncDir"); err != nil {
		return err
	}
	return nil // syncing takes long, and is not what this is about
}

type failingFile struct {
	store.File
	fs       *failing
	unsynced bool
}

// killSelf ends this program as kill -9 does.
func killSelf() {
	self, err := os.FindProcess(os.Getpid())
	if err == nil {
		self.Kill()
	}
	select {}
}

// Write writes half before it fails, as a full disk does.
func (f *failingFile) Write(p []byte) (int, error) {
	if f.fs.die && f.fs.calls+1 == f.fs.failAt {
		f.File.Write(p[:len(p)/2])
	}
	if err := f.fs.fail("write"); err != nil {
		n, _ := f.File.Write(p[:len(p)/2])
		return n, err
	}
	return f.File.Write(p)
}

func (f *failingFile) Sync() error {
	f.fs.retry = f.fs.retry || f.unsynced
	if err := f.fs.fail("fsync"); err != nil {
		f.unsynced = true
		return err
	}
	return nil
}

func (f *failingFile) Close() error {
	err := f.File.Close()
	return errors.Join(f.fs.fail("close"), err)
}

// saves are all ways to save, each after what came before it: prepare is done
// with a file system that works.
var saves = map[string]struct {
	prepare func(g *Garage) error
	save    func(g *Garage) error
	path    func(g *Garage) string // that is changed, "" for a new one
}{
	"new bike": {
		func(g *Garage) error { return nil },
		func(g *Garage) error { b := fullBike(); return g.NewBike(&b) },
		func(g *Garage) string { return g.bikePaths("Invented Four").Card },
	},
	"effects": {
		func(g *Garage) error { b := fullBike(); return g.NewBike(&b) },
		func(g *Garage) error {
			return g.SaveEffects("Invented Four", map[string]float64{"1-2": 3, "3-4": 4})
		},
		func(g *Garage) string { return g.bikePaths("Invented Four").Card },
	},
	"first zero": {
		func(g *Garage) error { return nil },
		func(g *Garage) error { b := DefaultBoard("s1"); return g.SaveZero(&b, someZero(1)) },
		func(g *Garage) string { return filepath.Join(g.Paths().Boards, "s1.toml") },
	},
	"zero": {
		func(g *Garage) error { b := DefaultBoard("s1"); return g.SaveZero(&b, someZero(1)) },
		func(g *Garage) error { b := DefaultBoard("s1"); return g.SaveZero(&b, someZero(2)) },
		func(g *Garage) string { return filepath.Join(g.Paths().Boards, "s1.toml") },
	},
	"last": {
		func(g *Garage) error { return g.SetLastBike("one") },
		func(g *Garage) error { return g.SetLastBike("another") },
		func(g *Garage) string { return g.Paths().Last },
	},
	"record": {
		func(g *Garage) error { return nil },
		func(g *Garage) error { _, err := g.SaveSync("x", someRecord()); return err },
		func(g *Garage) string { return "" },
	},
	"bench card": {
		func(g *Garage) error { return nil },
		func(g *Garage) error { s := someSheet(); _, err := g.SaveBench("x", &s); return err },
		func(g *Garage) string { return "" },
	},
	"checks": {
		func(g *Garage) error { return nil },
		func(g *Garage) error {
			_, err := g.SaveChecks("x", "0.1.0", []Tick{{ID: CheckVents, Answer: TickDone}})
			return err
		},
		func(g *Garage) string { return "" },
	},
	"first unfinished": {
		func(g *Garage) error { return nil },
		func(g *Garage) error { return openRun(g).Update(someRecord()) },
		func(g *Garage) string { return "" },
	},
	"unfinished": {
		cutOffRun,
		func(g *Garage) error {
			u := openRun(g)
			u.path = runPath(g)
			return u.write(someRecord())
		},
		runPath,
	},
	"unfinished gone on with": {
		cutOffRun,
		func(g *Garage) error { _, err := g.Resume(runPath(g)); return err },
		runPath,
	},
}

func openRun(g *Garage) *Unfinished {
	u, err := g.OpenUnfinished("x")
	if err != nil {
		panic(err)
	}
	return u
}

// cutOffRun leaves the record of a run whose program is gone.
func cutOffRun(g *Garage) error {
	if err := openRun(g).Update(someRecord()); err != nil {
		return err
	}
	path := runPath(g)
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	body := bytes.Replace(text[:len(text)-store.SealLength], fmt.Appendf(nil, `"process": %d`, os.Getpid()),
		fmt.Appendf(nil, `"process": %d`, noProcess), 1)
	return os.WriteFile(path, store.Seal(body), 0o666)
}

// noProcess is a number that no process has.
const noProcess = 1 << 30

// runPath is the place of the one unfinished record.
func runPath(g *Garage) string {
	paths, err := store.Paths(g.bikePaths("x").Unfinished, recordEnding)
	if err != nil || len(paths) != 1 {
		return ""
	}
	return paths[0]
}

// contents returns all files of a garage that are not temporary, and apart the
// temporary ones.
func contents(t testing.TB, g *Garage) (kept map[string]string, temps []string) {
	t.Helper()
	kept = map[string]string{}
	filepath.WalkDir(g.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return nil
		}
		if strings.HasPrefix(d.Name(), ".") {
			temps = append(temps, path)
		} else {
			kept[path] = readText(t, path)
		}
		return nil
	})
	return kept, temps
}

// Row 18 of the fault table: call N of every way to save fails, for all N, once
// and from then on.
func TestNthCallFails(t *testing.T) {
	t.Parallel()
	cases := 0
	faults := effort.Of([]error{syscall.ENOSPC}, []error{syscall.ENOSPC, syscall.EIO, syscall.EACCES, syscall.EDQUOT})
	modes := effort.Of([]failing{{}, {sticky: true, spare: true}},
		[]failing{{}, {sticky: true}, {sticky: true, spare: true}})
	for name := range saves {
		t.Run(name, func(t *testing.T) {
			for _, mode := range modes {
				for _, err := range faults {
					for n := 1; ; n++ {
						f := mode
						f.failAt, f.err = n, err
						if !failOnce(t, fmt.Sprintf("%s, call %d, %+v", name, n, mode), name, &f) {
							break
						}
						cases++
					}
				}
			}
		})
	}
	t.Logf("count: %d failures in %d ways to save, 0 files lost or torn", cases, len(saves))
}

// failOnce reports whether the call that was to fail came at all.
func failOnce(t *testing.T, label, name string, f *failing) bool {
	t.Helper()
	s := saves[name]
	g := openTest(t)
	must(t, s.prepare(g))
	old, _ := contents(t, g)
	g.disk.Files = f
	err := s.save(g)
	if f.failed == 0 {
		if err != nil {
			t.Errorf("%s: %v although nothing failed", label, err)
		}
		return false
	}
	now, temps := contents(t, g)
	changed := fmt.Sprint(old) != fmt.Sprint(now)
	var e *Error
	switch {
	case err == nil && !changed:
		t.Errorf("%s: not saved, and no error", label)
	case err == nil && f.last != "remove":
		t.Errorf("%s: %s failed, and no error", label, f.last)
	case err != nil && (!errors.As(err, &e) || !errors.Is(err, f.err) || !strings.HasPrefix(e.Path, g.dir) ||
		!strings.Contains(err.Error(), e.Path) || !strings.Contains(err.Error(), f.err.Error())):
		t.Errorf("%s: error without path or cause: %v", label, err)
	case err != nil && changed != errors.Is(err, store.ErrUnsynced):
		t.Errorf("%s: changed: %v, but %v", label, changed, err)
	}
	if len(temps) > 0 && (f.spare || f.last != "remove") {
		t.Errorf("%s: left %v", label, temps)
	}
	if f.retry {
		t.Errorf("%s: fsync was retried", label)
	}
	if path := s.path(g); changed && path != "" && !strings.HasSuffix(now[path], "\n") {
		t.Errorf("%s: %s is cut short", label, path)
	}
	g.disk = store.New()
	if damaged := g.Inspect().Damaged; damaged != nil {
		t.Errorf("%s: damaged: %v", label, damaged)
	}
	if f.spare && err != nil && !changed {
		if err := s.save(g); err != nil {
			t.Errorf("%s: the next try: %v", label, err)
		}
	}
	return true
}

// A folder or card that can't be written is an error that says so, and no more.
func TestReadOnly(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := fullBike()
	must(t, g.NewBike(&b))
	p, err := g.BikePaths(b.Name)
	must(t, err)
	must(t, os.Chmod(p.Card, 0o444))
	before := readText(t, p.Card)
	if err := g.SaveEffects(b.Name, map[string]float64{"1-2": 3}); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("a read-only card: got %v", err)
	}
	if err := g.SaveEffects(b.Name, map[string]float64{"1-2": -6.25}); err != nil {
		t.Errorf("nothing to change on a read-only card: %v", err)
	}
	if kept, temps := contents(t, g); kept[p.Card] != before || temps != nil {
		t.Errorf("changed, or left %v", temps)
	}
	must(t, os.Chmod(p.Card, 0o640))
	must(t, g.SaveEffects(b.Name, map[string]float64{"1-2": 3}))
	if info, err := os.Stat(p.Card); err != nil || info.Mode().Perm()&0o777 != 0o640 && filepath.Separator == '/' {
		t.Errorf("the card's mode is now %v, %v", info.Mode(), err)
	}
	inTheWay := filepath.Join(t.TempDir(), "file")
	must(t, os.WriteFile(inTheWay, nil, 0o666))
	blocked, err := Open(filepath.Join(inTheWay, "garage"))
	must(t, err)
	var e *Error
	if err := blocked.NewBike(&b); !errors.As(err, &e) {
		t.Errorf("below a file: got %v", err)
	}
}
