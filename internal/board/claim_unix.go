//go:build linux || darwin || freebsd || openbsd

package board

import (
	"bufio"
	"errors"
	"evendraw/internal/plain"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// self is this process's number.
var self = os.Getpid()

// claim is our own descriptor of a port. Its lock keeps a second process away;
// the system drops it with the process, however that ends.
type claim struct {
	fd   int
	info fs.FileInfo
}

// claimPort makes sure that path is a serial port that nobody else has, and
// locks it. The port's settings are not touched.
func claimPort(path string) (*claim, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, claimError(path, nil, err)
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return nil, &Error{Kind: NotSerial, Port: path}
	}
	fd, err := openOwn(path)
	if err != nil {
		return nil, claimError(path, info, err)
	}
	c := &claim{fd, info}
	if isOwn(fd, info) {
		c.release()
		return nil, &Error{Kind: NotSerial, Port: path, Err: errOwn}
	}
	if err := c.take(path); err != nil {
		c.release()
		return nil, err
	}
	return c, nil
}

// isOwn reports whether an open port is the terminal that this program runs in: to take it for a board's
// would leave it useless.
func isOwn(fd int, info fs.FileInfo) bool {
	if tty, err := os.Stat("/dev/tty"); err == nil && sameDevice(tty, info) {
		return true
	}
	for _, f := range []*os.File{os.Stdin, os.Stdout, os.Stderr} {
		if mine, err := f.Stat(); err == nil && mine.Mode()&fs.ModeCharDevice != 0 && sameDevice(mine, info) &&
			checkTerminal(fd) == nil {
			return true
		}
	}
	return controls(fd)
}

// sameDevice reports whether two nodes are one device.
func sameDevice(a, b fs.FileInfo) bool {
	x, isX := a.Sys().(*syscall.Stat_t)
	y, isY := b.Sys().(*syscall.Stat_t)
	return isX && isY && x.Rdev == y.Rdev
}

// take checks the open descriptor and locks it.
func (c *claim) take(path string) error {
	if err := checkTerminal(c.fd); err != nil {
		return claimError(path, c.info, err)
	}
	err := syscall.Flock(c.fd, syscall.LOCK_EX|syscall.LOCK_NB)
	switch {
	case errors.Is(err, syscall.EWOULDBLOCK):
		return busy(path, lockHolder(c.info))
	case errors.Is(err, syscall.ENOTSUP), errors.Is(err, syscall.EOPNOTSUPP), errors.Is(err, syscall.EINVAL),
		errors.Is(err, syscall.ENOLCK):
		// A system that can't lock device nodes: the library's own exclusive mode remains.
	case err != nil:
		return claimError(path, c.info, err)
	}
	if pid, taken := exclusiveHolder(c.fd, c.info); taken {
		return busy(path, pid)
	}
	return nil
}

// opened is called when the library has opened the port too.
func (c *claim) opened() { keepShared(c.fd, c.info) }

// release frees the port. It must come after the library's Close.
func (c *claim) release() { syscall.Close(c.fd) }

// openOwn opens path without waiting for a carrier, without becoming its
// session's terminal and without leaking it into programs we start.
func openOwn(path string) (int, error) {
	for {
		fd, err := syscall.Open(path, syscall.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
		if err != syscall.EINTR {
			return fd, err
		}
	}
}

// claimError turns a system error from before the port was ours into an Error.
// info is that of the node, nil if unknown.
func claimError(path string, info fs.FileInfo, err error) *Error {
	e := &Error{Kind: Failed, Port: path, Err: err}
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR),
		errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV):
		e.Kind = Absent
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Kind = Denied
		if info != nil {
			e.Group, e.Mode = owningGroup(info), info.Mode().Perm()
		}
	case errors.Is(err, syscall.EBUSY):
		e = busy(path, openHolder(info, true))
	case errors.Is(err, syscall.ENOTTY):
		e.Kind = NotSerial
	}
	return e
}

func busy(path string, pid int) *Error {
	return &Error{Kind: Busy, Port: path, Holder: pid, Program: programName(pid)}
}

// notSerialKind is the kind of error when the library says that a port is not serial
// which has just passed our own check: it has gone, or it refuses the rate.
func notSerialKind(path string) Kind {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return Vanished
	case info.Mode()&fs.ModeCharDevice == 0:
		return NotSerial
	}
	return Failed
}

// groupFile is where unix systems keep the names of their own groups.
const groupFile = "/etc/group"

// owningGroup returns the name of the group that owns the node, or its number if it has no name here.
func owningGroup(info fs.FileInfo) string {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return ""
	}
	gid := strconv.FormatUint(uint64(st.Gid), 10)
	f, err := os.Open(groupFile)
	if err != nil {
		return gid
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if fields := strings.Split(lines.Text(), ":"); len(fields) > 2 && fields[2] == gid {
			return plain.Text(fields[0])
		}
	}
	return gid
}
