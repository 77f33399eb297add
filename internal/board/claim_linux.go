package board

import (
	"bufio"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unsafe"
)

const (
	// From the kernel's ioctls.h; MIPS and PowerPC have another number.
	getExclusive    = 0x80045440
	getExclusiveOdd = 0x40045440
	// From the kernel's devices.txt: major numbers of the user side of ptys.
	firstPtyMajor, lastPtyMajor = 136, 143
	// searchTime bounds the search for the holder of a port; with it a refusal
	// stays well below the 500 ms that it may take (chosen).
	searchTime = 250 * time.Millisecond
)

func ioctl(fd int, request uintptr, arg unsafe.Pointer) error {
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, uintptr(fd), request, uintptr(arg)); errno != 0 {
		return errno
	}
	return nil
}

// checkTerminal returns ENOTTY if fd is no serial port.
func checkTerminal(fd int) error {
	var settings syscall.Termios
	return ioctl(fd, syscall.TCGETS, unsafe.Pointer(&settings))
}

// controls reports whether fd is this process's controlling terminal: the kernel tells the session of no other.
func controls(fd int) bool {
	var session int32
	return ioctl(fd, syscall.TIOCGSID, unsafe.Pointer(&session)) == nil
}

// exclusiveHolder reports whether another process has put the port of our descriptor fd into exclusive mode, which does
// not keep an administrator's process like ours from opening it. pid is 0 when that process can't be seen.
func exclusiveHolder(fd int, info fs.FileInfo) (pid int, taken bool) {
	request := uintptr(getExclusive)
	switch runtime.GOARCH {
	case "mips", "mipsle", "mips64", "mips64le", "ppc64", "ppc64le":
		request = getExclusiveOdd
	}
	var on int32
	if err := ioctl(fd, request, unsafe.Pointer(&on)); err != nil || on == 0 {
		return 0, false
	}
	pid = openHolder(info, false)
	if pid == 0 && isPty(info) {
		// A pty keeps the mode after the death of the process that set it.
		return 0, false
	}
	return pid, true
}

// keepShared takes a pty out of the exclusive mode that the library has put it in: if this process is killed, the mode
// of a pty stays and keeps other users' processes out for ever (measured). A real port loses it with its last user.
func keepShared(fd int, info fs.FileInfo) {
	if isPty(info) {
		_ = ioctl(fd, syscall.TIOCNXCL, nil)
	}
}

func isPty(info fs.FileInfo) bool {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return false
	}
	major, _ := deviceNumber(uint64(st.Rdev))
	return major >= firstPtyMajor && major <= lastPtyMajor
}

// deviceNumber splits a device number as the C library does.
func deviceNumber(dev uint64) (major, minor uint64) {
	return dev>>8&0xfff | dev>>32&^0xfff, dev&0xff | dev>>12&^0xff
}

// lockHolder returns the process that has locked the node, 0 if unknown. The
// kernel's list of locks names it even to users who may not look into it.
func lockHolder(info fs.FileInfo) int {
	st, ok := info.Sys().(*syscall.Stat_t)
	f, err := os.Open("/proc/locks")
	if !ok || err != nil {
		return openHolder(info, false)
	}
	defer f.Close()
	major, minor := deviceNumber(uint64(st.Dev))
	node := fmt.Sprintf("%02x:%02x:%d", major, minor, st.Ino)
	for lines := bufio.NewScanner(f); lines.Scan(); {
		// 1: FLOCK ADVISORY WRITE pid node first last
		fields := strings.Fields(lines.Text())
		if len(fields) < 6 || fields[1] != "FLOCK" || fields[5] != node {
			continue
		}
		if pid, err := strconv.Atoi(fields[4]); err == nil && pid > 0 {
			return pid
		}
	}
	return openHolder(info, false)
}

// openHolder returns a process that has the node open, 0 if none can be seen; this process counts only with own.
func openHolder(info fs.FileInfo, own bool) int {
	deadline := time.Now().Add(searchTime)
	entries, err := os.ReadDir("/proc")
	if err != nil || info == nil {
		return 0
	}
	for _, entry := range entries {
		pid, err := strconv.Atoi(entry.Name())
		if err != nil || (pid == self && !own) {
			continue
		}
		if time.Now().After(deadline) {
			return 0
		}
		if hasOpen(pid, info) {
			return pid
		}
	}
	return 0
}

// hasOpen reports whether the process has the node open, as far as it can be
// seen. Only device nodes are looked at: others may be on a slow file system.
func hasOpen(pid int, info fs.FileInfo) bool {
	dir := filepath.Join("/proc", strconv.Itoa(pid), "fd")
	d, err := os.Open(dir)
	if err != nil {
		return false
	}
	defer d.Close()
	names, _ := d.Readdirnames(-1)
	for _, name := range names {
		link := filepath.Join(dir, name)
		target, err := os.Readlink(link)
		if err != nil || !strings.HasPrefix(target, "/dev/") {
			continue
		}
		if other, err := os.Stat(link); err == nil && os.SameFile(info, other) {
			return true
		}
	}
	return false
}

// programName returns the name of a process, empty if unknown.
func programName(pid int) string {
	if pid <= 0 {
		return ""
	}
	return attribute(filepath.Join("/proc", strconv.Itoa(pid)), "comm")
}
