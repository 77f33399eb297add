package garage

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/store"
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

var children = map[string]func(g *Garage) error{
	// claim goes on with the run that was cut off, if it gets it, and holds it until its input ends.
	"claim": func(g *Garage) error {
		bufio.NewReader(os.Stdin).ReadString('\n') // all begin at once
		u, err := g.Resume(runPath(g))
		switch {
		case errors.Is(err, ErrHeld):
			fmt.Println("refused")
			return nil
		case err != nil:
			return err
		}
		if err := u.Update(someRecord()); err != nil {
			return err
		}
		fmt.Println("mine")
		io.Copy(io.Discard, os.Stdin)
		return nil
	},
	// save saves until it is killed.
	"save": func(g *Garage) error {
		fmt.Println("ready")
		for n := 0; ; n++ {
			b := DefaultBoard("s1")
			_, err := g.SaveSync(killBike, someRecord())
			u, open := g.OpenUnfinished(killBike)
			err = errors.Join(err, open, u.Update(someRecord()), u.Update(someRecord()), u.Discard())
			if err := errors.Join(err, g.SaveEffects(killBike, map[string]float64{"1-2": float64(1 + n%50)}),
				g.SaveZero(&b, someZero(1+n%9))); err != nil {
				return err
			}
		}
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
		g = open(g.dir, swept)
		if _, temps := contents(t, g); len(temps) > 0 {
			t.Fatalf("not swept: %v", temps)
		}
		r := g.Inspect()
		if len(r.Damaged) > 0 {
			t.Fatalf("damaged: %v", r.Damaged)
		}
		records += r.Files
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
	g.disk.Files = &failing{failAt: at, die: true}
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
	g = open(g.dir, swept)
	if _, temps := contents(t, g); temps != nil {
		t.Errorf("call %d: not swept: %v", n, temps)
	}
	if damaged := g.Inspect().Damaged; damaged != nil {
		t.Errorf("call %d: %v", n, damaged)
	}
	if err := s.save(g); err != nil && !errors.Is(err, fs.ErrExist) {
		t.Errorf("call %d: the next save: %v", n, err)
	}
	return true
}

// swept is a time at which what a killed program left, its lock among it, is swept away.
func swept() time.Time { return time.Now().Add(store.SweepAge + time.Second) }

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
		must(t, cutOffRun(g))
		out, err := child(t, fmt.Sprintf("%d@finish", n), g).CombinedOutput()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || len(out) > 0 { // Windows gives a killed program status 1, as a failed one
			t.Fatalf("call %d: %v, %s", n, err, out)
		}
		if exit.ExitCode() == 7 {
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
			must(t, finishRun(open(g.dir, swept)))
		}
	}
}
