package board

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// The tests here run one after the other: they start processes, and look for who has a port open.

// users are those to try as: oneself, and with root's rights an ordinary one.
func users() map[string]int {
	if os.Getuid() == 0 {
		return map[string]int{"root": 0, "nobody": nobody}
	}
	return map[string]int{"self": os.Getuid()}
}

func TestSecondProcessIsRefused(t *testing.T) {
	l := fakeboard.NewLine(t)
	l.LetIn(t)
	says := frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2))
	l.Write(says)
	first := open(t, l.Path)
	sent := make(chan []byte)
	stop := make(chan bool)
	go func() {
		all := says
		for n := uint32(0); ; n++ {
			select {
			case <-stop:
				all = append(all, "the end"...)
				l.Write([]byte("the end"))
				sent <- all
				return
			case <-time.After(time.Millisecond):
			}
			f := appendFrames(nil, n, 1)
			all = append(all, f...)
			l.Write(f)
		}
	}()
	read := make(chan []byte)
	go func() {
		var all []byte
		for b := make([]byte, 4096); !bytes.HasSuffix(all, []byte("the end")); {
			n, err := first.Read(b)
			if err != nil {
				break
			}
			all = append(all, b[:n]...)
		}
		read <- all
	}()
	for name, uid := range users() {
		o := tries(t, l.Path, uid)
		if o.Kind != "busy" || o.Holder != os.Getpid() || !strings.Contains(o.Hint, "Close "+programName(self)) {
			t.Errorf("as %s: %+v", name, o)
		}
	}
	_, err := Open(t.Context(), l.Path, Options{})
	if e := mustBe(t, err, Busy); e.Holder != self {
		t.Errorf("in this process: %v", e)
	}
	close(stop)
	if a, b := <-sent, <-read; !bytes.Equal(a, b) {
		t.Errorf("first process: sent %d bytes, read %d, not the same", len(a), len(b))
	}
}

func TestKilledHolderLeavesThePortFree(t *testing.T) {
	for name, uid := range users() {
		l := fakeboard.NewLine(t)
		l.LetIn(t)
		l.Talk(fakeboard.Announcement("A1", 2))
		holder := holds(t, "hold", l.Path, uid)
		if o := tries(t, l.Path, uid); o.Kind != "busy" || o.Holder != holder.Process.Pid {
			t.Errorf("as %s, held: %+v", name, o)
		}
		kill(holder)
		if o := tries(t, l.Path, uid); o.Kind != "none" {
			t.Errorf("as %s, after the kill: %+v", name, o)
		}
	}
}

func TestPortInForeignExclusiveMode(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root can open such a port")
	}
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	l.LetIn(t)
	// A busy machine may end the search for the holder early; the port is then ours.
	holder, err := holds(t, "exclusive", l.Path, 0), error(nil)
	for begun := time.Now(); time.Since(begun) < effort.Hang; holder = holds(t, "exclusive", l.Path, 0) {
		var link *Link
		if link, err = Open(t.Context(), l.Path, Options{Baud: 500_000, Wait: effort.Hang}); err != nil {
			break
		}
		link.Close()
		kill(holder)
	}
	e := mustBe(t, err, Busy)
	if e.Holder != holder.Process.Pid || e.Program == "" {
		t.Errorf("%v, want process %d", e, holder.Process.Pid)
	}
	if o := tries(t, l.Path, nobody); o.Kind != "busy" {
		t.Errorf("as nobody: %+v", o)
	}
	kill(holder)
	open(t, l.Path) // though a pty stays in that mode
}

func TestDenied(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("needs another user")
	}
	l := fakeboard.NewLine(t)
	const dialout = 20 // on most systems; the name is looked up
	for mode, hint := range map[os.FileMode]string{0o660: "sudo usermod -aG ", 0o620: "sudo chmod g+rw "} {
		t.Run(fmt.Sprint(mode), func(t *testing.T) {
			if err := os.Chown(l.Path, 0, dialout); err != nil {
				t.Fatal(err)
			}
			if err := os.Chmod(l.Path, mode); err != nil {
				t.Fatal(err)
			}
			o := tries(t, l.Path, nobody)
			info, err := os.Stat(l.Path)
			if err != nil {
				t.Fatal(err)
			}
			group := owningGroup(info)
			if o.Kind != "denied" || group == "" || o.Group != group ||
				!strings.Contains(o.Text, group) || !strings.Contains(o.Hint, hint) {
				t.Errorf("mode %o: %+v, group %q", mode, o, group)
			}
		})
	}
}

func TestSystemErrors(t *testing.T) {
	t.Parallel()
	for errno, kind := range map[syscall.Errno]Kind{
		syscall.ENOENT: Absent, syscall.ENXIO: Absent, syscall.EIO: Absent, syscall.ENOTDIR: Absent,
		syscall.EACCES: Denied, syscall.EPERM: Denied, syscall.EBUSY: Busy, syscall.ENOTTY: NotSerial,
		syscall.EMFILE: Failed,
	} {
		t.Run("claim/"+errno.Error(), func(t *testing.T) { mustBe(t, claimError("/dev/p", nil, errno), kind) })
	}
	for errno, kind := range map[syscall.Errno]Kind{
		syscall.ENOENT: Absent, syscall.EIO: Vanished, syscall.EMFILE: Failed,
	} {
		t.Run("library/"+errno.Error(), func(t *testing.T) { mustBe(t, libraryError("/dev/p", errno), kind) })
	}
	for path, kind := range map[string]Kind{"/dev/gone": Vanished, "/etc/passwd": NotSerial, "/dev/null": Failed} {
		t.Run("unfit"+path, func(t *testing.T) {
			if got := notSerialKind(path); got != kind {
				t.Errorf("%v, want %v", got, kind)
			}
		})
	}
}
