package garage

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// A test starts this program again with the variable set to do the work of
// another program in the garage of that folder.
const childVariable = "EVENDRAW_TEST_CHILD"

func TestMain(m *testing.M) {
	if work := os.Getenv(childVariable); work != "" {
		kind, dir, _ := strings.Cut(work, ":")
		if n, name, ok := strings.Cut(kind, "@"); ok { // die at call n of a way to save
			dieAt(open(dir, time.Now), n, name)
		}
		if err := children[kind](open(dir, time.Now)); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const killBike = "Invented Twin"

// appendsByEach is how many lines each of two programs adds to one file.
var appendsByEach = effort.Of(50, 500)

var children = map[string]func(g *Garage) error{
	// save saves until it is killed.
	"save": func(g *Garage) error {
		fmt.Println("ready")
		for n := 0; ; n++ {
			b := DefaultBoard("s1")
			_, err := g.SaveSync(killBike, someRecord())
			u, open := g.OpenUnfinished(killBike)
			err = errors.Join(err, open, u.Update(someRecord()), u.Update(someRecord()), u.Discard())
			if err := errors.Join(err, g.SaveEffects(killBike, map[string]float64{"1-2": float64(1 + n%50)}), g.SaveZero(&b, someZero(1+n%9))); err != nil {
				return err
			}
		}
	},
	// append adds lines to one file, and tells which were refused.
	"append": func(g *Garage) error {
		for n := range appendsByEach {
			line := fmt.Sprintf("%d %d", os.Getpid(), n)
			err := g.edit(filepath.Join(g.dir, "shared"), func(old []byte) ([]byte, error) { return append(old, line+"\n"...), nil })
			if err != nil {
				fmt.Println(line)
			}
		}
		return nil
	},
}

func child(t *testing.T, kind string, g *Garage) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childVariable+"="+kind+":"+g.dir)
	return cmd
}

// Row 19 of the fault table: a program that saves all the time is killed; what is
// there is old or new, and the next one sweeps and goes on.
func TestKill(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike(killBike, 2)
	must(t, g.NewBike(&b))
	kills := effort.Of(12, 1000)
	random := rand.New(rand.NewPCG(19, 19))
	orphans, records := 0, 0
	for n := range kills {
		cmd := child(t, "save", g)
		out, err := cmd.StdoutPipe()
		must(t, err)
		must(t, cmd.Start())
		if line, err := bufio.NewReader(out).ReadString('\n'); line != "ready\n" {
			t.Fatalf("the other program says %q, %v", line, err)
		}
		time.Sleep(time.Duration(random.Int64N(int64(15 * time.Millisecond)))) // anywhere in a save
		cmd.Process.Kill()
		cmd.Wait()

		_, temps := contents(t, g)
		orphans += len(temps)
		g = open(g.dir, func() time.Time { return time.Now().Add(sweepAge + time.Second) })
		if _, temps := contents(t, g); len(temps) > 0 {
			t.Fatalf("not swept: %v", temps)
		}
		checked, damaged := g.Check()
		if len(damaged) > 0 {
			t.Fatalf("damaged: %v", damaged)
		}
		records += checked
		if n%20 == 19 { // these are looked at; more of them would only take longer
			p := g.bikePaths(killBike)
			must(t, errors.Join(os.RemoveAll(p.Syncs), os.RemoveAll(p.Unfinished)))
		}
	}
	must(t, g.SaveEffects(killBike, map[string]float64{"1-2": 77}))
	t.Logf("count: %d kills while saving, %d orphans swept, %d looks at a file, 0 damaged", kills, orphans, records)
}

// dieAt saves and is killed at call n, half of what it writes there being written. It
// ends with status 7 when there are fewer calls.
func dieAt(g *Garage, n, name string) {
	at, err := strconv.Atoi(n)
	if err != nil {
		panic(err)
	}
	g.files = &failing{failAt: at, die: true}
	save := finishRun
	if s, ok := saves[name]; ok {
		save = s.save
	}
	if err := save(g); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	os.Exit(7)
}

// Row 19, at every place: a program is killed at each call that a save makes to the file
// system. What is there afterwards is old or new, never anything else, and the
// next save works.
func TestKillAtEveryCall(t *testing.T) {
	t.Parallel()
	kills := 0
	names := effort.Of([]string{"effects", "record"}, slices.Sorted(maps.Keys(saves)))
	for _, name := range names { // a card that is changed under its lock, and a new file
		t.Run(name, func(t *testing.T) {
			n := 1
			for killAtCall(t, name, n) {
				n++
			}
			kills += n - 1
		})
	}
	t.Logf("count: %d kills in %d ways to save, 0 files torn", kills, len(names))
}

// killAtCall has a program killed at call n of a save, and looks at what is there. It reports whether
// there is such a call.
func killAtCall(t *testing.T, name string, n int) bool {
	t.Helper()
	s := saves[name]
	g := openTest(t)
	must(t, s.prepare(g))
	old, _ := contents(t, g)
	out, err := child(t, fmt.Sprintf("%d@%s", n, name), g).CombinedOutput()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == 7 {
		return false
	}
	if exit == nil || exit.ExitCode() != -1 && exit.ExitCode() != 1 || len(out) > 0 {
		t.Fatalf("call %d: %v, %s", n, err, out)
	}
	left, _ := contents(t, g)
	for path, text := range old {
		if now, ok := left[path]; path != s.path(g) && (!ok || now != text) {
			t.Errorf("call %d: %s has changed", n, path)
		}
	}
	g = open(g.dir, func() time.Time { return time.Now().Add(sweepAge + time.Second) })
	if _, temps := contents(t, g); temps != nil {
		t.Errorf("call %d: not swept: %v", n, temps)
	}
	if _, damaged := g.Check(); damaged != nil {
		t.Errorf("call %d: %v", n, damaged)
	}
	if err := s.save(g); err != nil && !errors.Is(err, fs.ErrExist) {
		t.Errorf("call %d: the next save: %v", n, err)
	}
	return true
}

// finishRun ends the one run that goes on as a record.
func finishRun(g *Garage) error {
	u, err := g.Resume(runPath(g))
	if err == nil {
		_, err = u.Finish(someRecord())
	}
	return err
}

// A program is killed at each call while it makes a record of the run that goes on: the run
// is then unfinished, or a record, or both, and never gone.
func TestKillWhileFinishing(t *testing.T) {
	t.Parallel()
	for n := 1; ; n++ {
		g := openTest(t)
		must(t, openRun(g).Update(someRecord()))
		err := child(t, fmt.Sprintf("%d@finish", n), g).Run()
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.ExitCode() == 7 {
			if records, _ := g.ListSyncs("x"); n < 5 || len(records) != 1 || runPath(g) != "" {
				t.Errorf("after %d calls: %d records, unfinished %q", n-1, len(records), runPath(g))
			}
			t.Logf("count: %d kills while a run is made a record, 0 runs lost", n-1)
			return
		}
		records, damaged := g.ListSyncs("x")
		if damaged != nil || len(records) == 0 && runPath(g) == "" {
			t.Errorf("call %d: %d records, unfinished %q, damaged %v", n, len(records), runPath(g), damaged)
		}
		if runPath(g) != "" {
			must(t, finishRun(open(g.dir, time.Now)))
		}
	}
}

// Row 21: two programs save to one file at the same time; nothing is lost
// silently.
func TestTwoPrograms(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	must(t, os.MkdirAll(g.dir, 0o777))
	var programs [2]*exec.Cmd
	var refused [2]strings.Builder
	for i := range programs {
		programs[i] = child(t, "append", g)
		programs[i].Stdout = &refused[i]
		must(t, programs[i].Start())
	}
	said := 0
	for i, p := range programs {
		must(t, p.Wait())
		said += strings.Count(refused[i].String(), "\n")
	}
	lines := strings.Split(strings.TrimSpace(readText(t, filepath.Join(g.dir, "shared"))), "\n")
	seen := map[string]bool{}
	for _, line := range lines {
		if seen[line] {
			t.Errorf("%s is there twice", line)
		}
		seen[line] = true
	}
	if len(lines)+said != 2*appendsByEach {
		t.Errorf("%d saved, %d refused of %d", len(lines), said, 2*appendsByEach)
	}
	t.Logf("count: %d saves by two programs at a time, %d refused aloud, 0 lost", len(lines), said)
}

// An edit whose lock is taken away, or whose card is changed by an editor,
// starts again on what is there; one that is always disturbed is refused.
func TestDisturbedEdit(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	must(t, os.MkdirAll(g.dir, 0o777))
	path := filepath.Join(g.dir, "shared")
	lock := besidePath(path, "", lockEnding)
	for name, c := range map[string]struct {
		disturb func()
		want    string
	}{
		"editor": {func() { must(t, os.WriteFile(path, []byte("edited\n"), 0o666)) }, "edited\nmine\n"},
		"thief":  {func() { must(t, os.Remove(lock)) }, "old\nmine\n"},
	} {
		must(t, os.WriteFile(path, []byte("old\n"), 0o666))
		tries := 0
		must(t, g.edit(path, func(old []byte) ([]byte, error) {
			if tries++; tries == 1 {
				c.disturb()
			}
			return append(old, "mine\n"...), nil
		}))
		if got := readText(t, path); got != c.want || tries != 2 {
			t.Errorf("%s: got %q after %d tries", name, got, tries)
		}
	}
	n := 0
	err := g.edit(path, func(old []byte) ([]byte, error) {
		n++
		must(t, os.WriteFile(path, fmt.Append(nil, n), 0o666))
		return []byte("mine"), nil
	})
	if !errors.Is(err, errChanged) || readText(t, path) != fmt.Sprint(n) {
		t.Errorf("always disturbed: got %v", err)
	}
	if _, temps := contents(t, g); temps != nil {
		t.Errorf("left %v", temps)
	}
}
