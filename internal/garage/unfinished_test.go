package garage

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/store"
)

// leftBehind makes a garage with the unfinished record of a program that is gone.
func leftBehind(t *testing.T) (g *Garage, path string) {
	t.Helper()
	g = openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	u, err := g.OpenUnfinished("invented four")
	must(t, err)
	rec := someRecord()
	rec.Begun = rec.Time.Add(-5 * time.Minute)
	must(t, u.Update(rec))
	rec.IdlingSeconds += 60
	must(t, u.Update(rec))
	p, err := g.BikePaths("Invented Four")
	must(t, err)
	paths, err := store.Paths(p.Unfinished, recordEnding)
	must(t, err)
	if len(paths) != 1 {
		t.Fatalf("two updates made %v", paths)
	}
	return g, paths[0]
}

func TestUnfinishedIsListedResumedAndFinished(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	left, damaged := g.ListUnfinished()
	if len(left) != 1 || damaged != nil || left[0].Path != path || left[0].Kept.Verdict != VerdictUnfinished ||
		left[0].Kept.IdlingSeconds != 183.5 {
		t.Fatalf("left %+v, damaged %v", left, damaged)
	}
	u, err := g.Resume(path)
	must(t, err)
	more := someRecord()
	more.Steps, more.Before, more.IdlingSeconds, more.Note = more.Steps[:1], nil, 10, ""
	must(t, u.Update(more))
	kept, err := u.Finish(more)
	must(t, err)
	got, err := LoadSync(kept)
	must(t, err)
	if len(got.Steps) != 4 || got.IdlingSeconds != 193.5 || got.Before == nil || got.Note != someRecord().Note ||
		got.Verdict != VerdictDone ||
		!got.Begun.Equal(someRecord().Time.Add(-5*time.Minute)) {
		t.Errorf("got %+v", got)
	}
	if text := readText(t, kept); strings.Contains(text, `"process"`) {
		t.Errorf("the record tells of the program that wrote it:\n%s", text)
	}
	if left, _ := g.ListUnfinished(); left != nil {
		t.Errorf("still left: %+v", left)
	}
}

func TestUnfinishedIsKeptOrDiscarded(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	u, err := g.Resume(path)
	must(t, err)
	kept, err := u.Keep()
	must(t, err)
	if got, err := LoadSync(kept); err != nil || got.Verdict != VerdictUnfinished || len(got.Steps) != 3 {
		t.Errorf("got %+v, %v", got, err)
	}
	g, path = leftBehind(t)
	u, err = g.Resume(path)
	must(t, err)
	must(t, u.Discard())
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("still there: %v", err)
	}
	if records, _ := g.ListSyncs("Invented Four"); records != nil {
		t.Errorf("records %+v", records)
	}
	must(t, u.Discard())
}

// What a newer program of the same format wrote stays when the run goes on here.
func TestUnfinishedKeepsUnknownKeys(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	text := readText(t, path)
	body := strings.Replace(text[:len(text)-store.SealLength], "{\n", "{\n  \"weather\": {\"wind\": [1, 2]},\n", 1)
	must(t, os.WriteFile(path, store.Seal([]byte(body)), 0o666))
	u, err := g.Resume(path)
	must(t, err)
	must(t, u.Update(someRecord()))
	kept, err := u.Keep()
	must(t, err)
	if got := readText(t, kept); !strings.Contains(got, `"weather": {`) || !strings.Contains(got, `"wind": [`) {
		t.Errorf("the unknown key is gone:\n%s", got)
	}
	if _, err := LoadSync(kept); err != nil {
		t.Error(err)
	}
}

func TestDamagedUnfinishedIsTold(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	must(t, os.WriteFile(path, []byte(readText(t, path)[1:]), 0o666))
	if left, damaged := g.ListUnfinished(); left != nil || len(damaged) != 1 || damaged[0].Path != path {
		t.Errorf("left %v, damaged %v", left, damaged)
	}
	if _, err := g.Resume(path); err == nil {
		t.Error("resumed")
	}
	if _, err := g.Resume(filepath.Join(g.dir, "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

// Row 21: of several programs that go on with the run that was cut off, one gets it, and the others are refused
// as long as that one runs. Its end gives the run free again, with all its turns.
func TestARunHasOneOwner(t *testing.T) {
	t.Parallel()
	tries := effort.Of(3, 100)
	const programs = 3
	refused := 0
	for range tries {
		g := openTest(t)
		must(t, cutOffRun(g))
		var input [programs]io.WriteCloser
		var said [programs]*bufio.Reader
		var cmds [programs]*exec.Cmd
		for i := range programs {
			cmds[i] = child(t, "claim", g)
			in, err := cmds[i].StdinPipe()
			must(t, err)
			out, err := cmds[i].StdoutPipe()
			must(t, err)
			input[i], said[i] = in, bufio.NewReader(out)
			must(t, cmds[i].Start())
		}
		for i := range programs {
			io.WriteString(input[i], "\n")
		}
		owners := 0
		for i := range programs {
			switch line, _ := said[i].ReadString('\n'); line {
			case "mine\n":
				owners++
			case "refused\n":
				refused++
			default:
				t.Errorf("a program says %q", line)
			}
		}
		if left, _ := g.ListUnfinished(); owners != 1 || len(left) != 0 {
			t.Errorf("%d programs have the run, %d are left", owners, len(left))
		}
		if _, err := g.Resume(runPath(g)); !errors.Is(err, ErrHeld) {
			t.Errorf("taken from its owner: %v", err)
		}
		for i := range programs {
			input[i].Close()
			cmds[i].Wait()
		}
		u, err := g.Resume(runPath(g))
		must(t, err)
		if len(u.Earlier.Steps) != 2*len(someRecord().Steps) {
			t.Errorf("%d turns are in it", len(u.Earlier.Steps))
		}
	}
	t.Logf("count: %d programs went on with %d runs, 1 owner each, %d refused", tries*programs, tries, refused)
}

// A run that another program has gone on with meanwhile, as after a stop of hours, or that was kept, is not
// written over: this one's goes on in a file of its own.
func TestATakenRunIsNotOverwritten(t *testing.T) {
	t.Parallel()
	for _, how := range []string{"gone on with", "kept"} {
		g := openTest(t)
		must(t, cutOffRun(g))
		path := runPath(g)
		u, err := g.Resume(path)
		must(t, err)
		others := strings.Replace(readText(t, path), fmt.Sprint(os.Getpid()), fmt.Sprint(noProcess+1), 1)
		others = string(store.Seal([]byte(others[:len(others)-store.SealLength])))
		if how == "kept" {
			must(t, os.Remove(path))
		} else {
			must(t, os.WriteFile(path, []byte(others), 0o666))
		}
		must(t, u.Update(someRecord()))
		must(t, u.Update(someRecord()))
		paths, _ := store.Paths(g.bikePaths("x").Unfinished, recordEnding)
		if how == "kept" && len(paths) != 1 || how != "kept" && (len(paths) != 2 || readText(t, path) != others) {
			t.Errorf("%s: %v", how, paths)
		}
		kept, err := u.Finish(someRecord())
		must(t, err)
		if r, err := LoadSync(kept); err != nil || len(r.Steps) != len(someRecord().Steps) {
			t.Errorf("%s: %d turns, %v", how, len(r.Steps), err)
		}
	}
}
