package cli

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/plain"
)

// No verb opens a socket of any kind: none to the network, and none at all.
func TestNoNetwork(t *testing.T) {
	t.Parallel()
	effort.Need(t, "strace", "strace")
	dir := t.TempDir()
	trace := func(args ...string) (calls string, status int) {
		log := filepath.Join(dir, "trace")
		cmd := exec.Command("strace", append([]string{"-f", "-qq", "-e", "trace=network", "-o", log, binary},
			args...)...)
		cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+filepath.Join(dir, "garage"))
		out, err := cmd.CombinedOutput()
		if cmd.ProcessState == nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(log)
		if strings.Contains(string(out), "ptrace") || err != nil {
			t.Skipf("strace can't trace here: %s", out)
		}
		return string(b), cmd.ProcessState.ExitCode()
	}
	capture := filepath.Join(capturesDir, "four.cap.gz")
	line := fakeboard.NewLine(t)
	play(t, line, idlingBoard(), patient)
	for _, c := range []struct {
		status int
		args   []string
	}{
		{0, []string{"live", "--practice", "--headless", "--json", "--for", "1s"}},
		{0, []string{"live", "--port", line.Path, "--headless", "--json", "--for", "1s"}},
		{0, []string{"record", "--practice", filepath.Join(dir, "c.cap"), "--for", "1s"}},
		{0, []string{"analyse", capture}},
		{0, []string{"analyse", capture, "--json"}},
		{0, []string{"bike", "new", "twin", "--cylinders", "2"}},
		{0, []string{"bike", "list"}},
		{0, []string{"paths"}},
		{exitNoBoard, []string{"board", "list"}},
		{0, []string{"--help"}},
	} {
		calls, status := trace(c.args...)
		if strings.Contains(calls, "socket") || strings.Contains(calls, "connect(") {
			t.Errorf("%v: %s", c.args, calls)
		}
		if status != c.status && c.args[0] != "board" {
			t.Errorf("%v: status %d", c.args, status)
		}
	}
	// The trace would show one.
	log := filepath.Join(dir, "trace")
	exec.Command("strace", "-f", "-qq", "-e", "trace=network", "-o", log, "getent", "hosts", "localhost").Run()
	if b, _ := os.ReadFile(log); len(b) == 0 {
		t.Log("this system's getent uses no socket: the trace is not shown to see one")
	}
}

// controlBytes finds what could steer a terminal.
func controlBytes(text string) (found []string) {
	if !utf8.ValidString(text) {
		found = append(found, "broken letters") // a lone 9B steers some terminals
	}
	for _, r := range text {
		if plain.Steers(r) && r != '\n' && r != '\t' {
			found = append(found, fmt.Sprintf("%U", r))
		}
	}
	return found
}

// Control bytes from a file's name, a file, a card or a board never reach the
// terminal.
func TestControlBytesNeverReachTheTerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	garage, runs := filepath.Join(dir, "garage"), evilRuns(t, dir)
	for i, args := range runs {
		t.Run(fmt.Sprint(i, " ", args[0]), func(t *testing.T) {
			r := evendraw(t, garage, args...)
			if found := controlBytes(r.out); found != nil {
				t.Errorf("%q: standard output holds %v: %q", args, found, tail(r.out))
			}
			if found := controlBytes(r.err); found != nil {
				t.Errorf("%q: standard error holds %v: %q", args, found, tail(r.err))
			}
		})
	}
	// A board can't say such things: an announcement with them is no announcement.
	l := fakeboard.NewLine(t)
	about := fakeboard.Announcement("S1", 4)
	about.Model, about.Program = evil, evil
	l.Talk(about)
	r := start(t, os.Getuid(), "live", "--headless", "--port", l.Path, "--baud", "500000")
	if status := r.status(); status != exitNoBoard || controlBytes(r.text()) != nil {
		t.Errorf("status %d, %q", status, r.text())
	}
	// Nor can one that prints.
	printed := bytes.Repeat([]byte("# model "+evil+"\n# serial "+evil+"\n# rate 500\n1,2,3,4\n"), 200)
	if r := evendraw(t, garage, "analyse",
		write(t, filepath.Join(dir, "j.txt"), string(printed))); controlBytes(r.out+r.err) != nil {
		t.Errorf("%q", r.out+r.err)
	}
	t.Logf("count: %d runs on names and files with control bytes, none reaches the terminal", len(runs)+2)
}

// evil is what must not reach a terminal: a link, a clearing of the screen, colours, in
// escapes of both lengths, and marks that turn the order of the letters.
const evil = "\u202eab\u2066\u200f\x1b]8;;http://x.invalid\x07\x1b[2J\x9b31m\u009b1m\x08\x7f"

// evilRuns makes files full of control bytes in dir, its garage among them, and returns
// the arguments of runs that meet them.
func evilRuns(t *testing.T, dir string) [][]string {
	t.Helper()
	escaped := `\u202e\u2067\u001b]8;;x\u0007\u001b[2J\u009b1m`
	file := func(name, text string) string { return write(t, filepath.Join(dir, name), text) }
	head := "# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n"
	body := string(fakeboard.Steady("S1", 4, 3000).Bytes())
	screw := `{"Cylinders":2,"Root":1,"Channels":[0,1],"FiringOrder":[1,2],"Screws":[{"Name":"` + escaped +
		`","Moves":[2]}]}`
	card := "format = 1\nname = \"" + escaped + "\"\ncylinders = 2\nunit = \"" + escaped + "\"\n[[screw]]\nname = \"" +
		escaped + "\"\nmoves = [2]\n"
	file("garage/bikes/plain/bike.toml", card)
	file("garage/boards/S1.toml", "format = 1\nserial = \"S1\"\nmodel = \""+escaped+"\"\nsensors = [\""+escaped+"\"]\n")
	file("garage/last", evil)
	return [][]string{
		{"analyse", filepath.Join(dir, evil)},
		{"analyse", file("dir"+strings.ReplaceAll(evil, "/", "_"), "hello")},
		{"analyse", file("a.cap", head+"# bike: "+evil+"\n# board: "+evil+"\n# "+evil+": "+evil+"\n#\n"+body)},
		{"analyse", file("b.cap", head+"# bank: "+screw+"\n#\n"+body), "--json"},
		{"analyse", file("b2.cap", head+"# bank: "+screw+"\n#\n"+body)},
		{"analyse", file("c.cap", head+evil+"\n#\n")},
		{"analyse", file("d.cap", "# evendraw capture "+evil+"\n#\n")},
		{"analyse", file("e.csv", "t_us,"+evil+"\n1,2\n")},
		{"analyse", file("f.csv", "t_us,v0\n1,2\n2,"+evil+"\n")},
		{"analyse", file("g.txt", evil)},
		{"board", "check", "--strict", file("h.bin", "\x00A"+evil+"\x00"+body)},
		{"board", "check", "--strict", file("i.bin", evil)},
		{"board", "show", "S1"}, {"board", "show", evil},
		{"bike", "list"}, {"bike", "show", "plain"}, {"bike", "show"}, {"bike", "show", evil}, {"bike", "new", evil},
		{"live", "--practice", evil, "--headless"},
		{"live", "--headless", "--port", evil},
		{"live", "--bike", evil, "--headless"},
		{evil}, {"live", "--" + evil}, {"live", "--unit=" + evil},
		{"paths", "--garage", filepath.Join(dir, evil)},
		{"zero", "--from", filepath.Join(dir, "c.cap"), "--json"},
		{"record", filepath.Join(dir, "no", evil), "--practice", "--for", "1s"},
		{"replay", filepath.Join(dir, "c.cap")},
	}
}
