package board

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"time"

	"evendraw/internal/frame"
)

// examples holds an error of each sort and what its text and hint must name.
var examples = []struct {
	err        Error
	text, hint []string
}{
	{Error{Kind: Failed, Err: errors.New("odd")}, []string{"odd"}, []string{"plug"}},
	{Error{Kind: Absent, Port: "/dev/p", Err: fs.ErrNotExist}, []string{"/dev/p", "no such port"}, []string{"lead"}},
	{Error{Kind: Absent, Port: "/dev/p", Err: errors.New("input/output error")},
		[]string{"no device", "input/output"}, []string{"lead"}},
	{Error{Kind: NoBoard},
		[]string{"no board found"},
		[]string{"data cable", "driver", "dialout", "usermod", "ModemManager", "brltty"}},
	{Error{Kind: NoBoard, Err: errors.New("p: dead")}, []string{"p: dead"}, []string{"data cable"}},
	{Error{Kind: Several, Answers: []Answer{
		{"/dev/p", &frame.Announcement{Model: "m", Serial: "A1"}}, {"/dev/q",
			&frame.Announcement{Model: "m", Serial: "B2"}},
	}},
		[]string{"2 boards", "A1 on /dev/p", "B2 on /dev/q"}, []string{"by its port"}},
	{Error{Kind: Denied, Port: "/dev/p", Group: "dialout", Mode: 0o660},
		[]string{"denied", "dialout"}, []string{"sudo usermod -aG dialout $USER", "log"}},
	{Error{Kind: Denied, Port: "/dev/p", Group: "tty", Mode: 0o620},
		[]string{"denied", "tty"}, []string{"chmod g+rw /dev/p", "usermod -aG tty"}},
	{Error{Kind: Denied, Port: "/dev/p", Group: "root", Mode: 0o600}, []string{"denied", "root"}, []string{"chmod"}},
	{Error{Kind: Denied, Port: "p"}, []string{"denied"}, []string{"owner"}},
	{Error{Kind: Busy, Port: "/dev/p", Holder: 12, Program: "talker"},
		[]string{"busy", "talker", "12"}, []string{"Close talker", "kill 12", "ModemManager", "brltty"}},
	{Error{Kind: Busy, Port: "/dev/p", Holder: 12}, []string{"process 12"}, []string{"kill 12"}},
	{Error{Kind: Busy, Port: "/dev/p", Holder: self}, []string{"process"}, []string{"This program"}},
	{Error{Kind: Busy, Port: "/dev/p"}, []string{"another program"}, []string{"ModemManager", "brltty"}},
	{Error{Kind: NotSerial, Port: "/dev/null"},
		[]string{"/dev/null", "not a serial port"}, []string{"/dev/ttyUSB0"}},
	{Error{Kind: Vanished, Port: "/dev/p"}, []string{"vanished"}, []string{"lead", "ModemManager", "brltty"}},
	{Error{Kind: Silent, Port: "/dev/p", Rates: []int{500000, 250000}, Waited: 5 * time.Second},
		[]string{"no bytes at all", "500000, 250000", "5.0 s"}, []string{"reset button"}},
	{Error{Kind: Silent, Port: "/dev/p", Bytes: 99, Rates: []int{500000}},
		[]string{"99 bytes but no valid frames: baud or firmware"}, []string{"rate", "ModemManager", "brltty"}},
	{Error{Kind: Unreadable, Board: &frame.Announcement{Protocol: 2, Program: "2.0.0"}},
		[]string{"protocol 2", "program 1", "2.0.0"}, []string{"update"}},
	{Error{Kind: Unreadable, Board: &frame.Announcement{Protocol: 1, Layout: "heat:u16"}},
		[]string{"protocol 1", "program 1", "heat:u16", "counter:u32"}, []string{"install"}},
	{Error{Kind: Unreadable, Err: errors.New("why")}, []string{"why"}, []string{"install"}},
}

func TestErrorTextsAndHints(t *testing.T) {
	t.Parallel()
	seen := map[string]Kind{} // of each hint
	for i, x := range examples {
		text, hint := x.err.Error(), x.err.hint("linux")
		if kind, ok := seen[hint]; ok && kind != x.err.Kind {
			t.Errorf("%v and %v have the same hint", kind, x.err.Kind)
		}
		seen[hint] = x.err.Kind
		t.Run(fmt.Sprint(i, " ", x.err.Kind), func(t *testing.T) {
			if text == "" || strings.HasPrefix(text, "board: ") || strings.Contains(text, "\n") {
				t.Errorf("text %q", text)
			}
			for _, w := range x.text {
				if !strings.Contains(text, w) {
					t.Errorf("%q does not name %q", text, w)
				}
			}
			for _, w := range x.hint {
				if !strings.Contains(hint, w) {
					t.Errorf("hint %q does not name %q", hint, w)
				}
			}
		})
	}
}

// What the hints name is there on the reader's own system.
func TestHintsNameTheirOwnSystem(t *testing.T) {
	t.Parallel()
	foreign := map[host][]string{
		"linux":   {"COM", "device manager", "task manager", "/dev/cu."},
		"windows": {"/dev/", "sudo", "kill ", "ModemManager", "Linux", "macOS"},
		"darwin":  {"COM", "device manager", "task manager", "ttyUSB", "sudo", "ModemManager", "Linux"},
	}
	named := map[host][]string{"linux": {"ttyUSB", "sudo", "kill 12"}, "darwin": {"/dev/cu.", "kill 12", "driver"},
		"windows": {"COM3", "device manager", "driver", "task manager"}}
	for h, words := range foreign {
		all := ""
		for _, x := range examples {
			if x.err.Kind != Denied { // by a group of Unix
				all += x.err.hint(h) + "\n"
			}
		}
		for _, w := range words {
			if strings.Contains(all, w) {
				t.Errorf("%s: %q in %s", h, w, all)
			}
		}
		for _, w := range named[h] {
			if !strings.Contains(all, w) {
				t.Errorf("%s: no %q in %s", h, w, all)
			}
		}
	}
}

func TestKindNames(t *testing.T) {
	t.Parallel()
	if len(kindNames) != int(Unreadable)+1 || NotSerial.String() != "not-serial" ||
		Kind(-1).String() != "kind--1" || Kind(99).String() != "kind-99" {
		t.Errorf("%d names, %v", len(kindNames), NotSerial)
	}
}
