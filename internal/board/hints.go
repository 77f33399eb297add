package board

import (
	"fmt"
	"io/fs"
	"runtime"

	"evendraw/internal/frame"
)

const groupReadWrite fs.FileMode = 0o060 // group may read and write

// host is an operating system, as Go calls it, whose things the hints name.
type host string

// suspects names who is known to take a board's port.
func (h host) suspects() string {
	switch h {
	case "linux":
		return "The usual suspects are ModemManager (sudo systemctl stop ModemManager) and, if nobody here uses a " +
			"braille display, brltty (sudo apt remove brltty)."
	case "windows":
		return "The usual suspects are a serial monitor, a 3D printer's program and what synchronises a phone."
	}
	return "The usual suspects are a serial monitor and a 3D printer's program."
}

// driver says where the driver of a board's USB chip comes from.
func (h host) driver() string {
	switch h {
	case "linux":
		return "Linux has the driver of its USB chip. Still not found? In another terminal window type this exactly " +
			"as it stands: \"sudo usermod -aG dialout $USER\". Then log out of the computer and in again."
	case "windows":
		return "Open the device manager (right click on Start): under Ports (COM & LPT) a line comes when the lead " +
			"goes in. If it comes under Other devices with a yellow sign, the driver of its USB chip is missing: " +
			"CH340, CP210x or FTDI; get it from that chip's maker, or by Windows Update."
	}
	return "See that the driver of its USB chip is there: CH340, CP210x or FTDI."
}

// portName is what a port is called here.
func (h host) portName() string {
	switch h {
	case "windows":
		return "COM3"
	case "darwin":
		return "/dev/cu.usbserial-10"
	}
	return "/dev/ttyUSB0 or /dev/ttyACM0"
}

// endProgram says how to end a program.
func (h host) endProgram(process int) string {
	if h == "windows" {
		return "end it in the task manager"
	}
	return fmt.Sprintf("end it with: kill %d", process)
}

// Hint returns what to do about the error, in whole sentences.
func (e *Error) Hint() string { return e.hint(host(runtime.GOOS)) }

func (e *Error) hint(h host) string {
	switch e.Kind {
	case Absent:
		return "Check that the lead is in at both ends and that the port's name is right; or give no port at all, " +
			"and the board is looked for."
	case NoBoard:
		return hintNoBoard(h)
	case Several:
		return "Unplug the boards that you don't need, or say by its port which one you want."
	case Denied:
		return e.hintDenied()
	case Busy:
		return e.hintBusy(h)
	case NotSerial:
		return fmt.Sprintf("Give the board's own port, such as %s. A recorded file is opened with analyse instead.",
			h.portName())
	case Vanished:
		return "Push the lead home at both ends and keep it away from the ignition leads. If the port goes without " +
			"anyone touching the lead, another program may have taken it. " + h.suspects()
	case Silent:
		return e.hintSilent(h)
	case Unreadable:
		return e.hintUnreadable()
	}
	return "Unplug the board, wait five seconds, plug it in again and retry; try another USB socket or lead."
}

func hintNoBoard(h host) string {
	hint := "Plug the board in with a data cable (many leads only charge). "
	if h == "linux" {
		hint += "If the port shows up and goes at once: " + h.suspects() + " "
	}
	return hint + h.driver()
}

func (e *Error) hintDenied() string {
	if e.Group == "" {
		return "Ask the owner of this computer for the right to open the port."
	}
	join := fmt.Sprintf("sudo usermod -aG %s $USER", e.Group)
	switch {
	case e.Group == "root" || e.Group == "0":
		return fmt.Sprintf("Only the administrator may open this port. Let yourself in until the lead is pulled: sudo "+
			"chmod a+rw %s", e.Port)
	case e.Mode&groupReadWrite != groupReadWrite:
		return fmt.Sprintf("The group has no right to the port either. First: sudo chmod g+rw %s; then join the "+
			"group: %s, and log out and in again.", e.Port, join)
	}
	return fmt.Sprintf("Join the group once: %s, then log out and in again (or restart the computer).", join)
}

func (e *Error) hintBusy(h host) string {
	switch {
	case e.Holder == self:
		return "This program has the port open already; use the one that is running."
	case e.Program != "":
		return fmt.Sprintf("Close %s, or %s. If it opens the port again by itself: %s", e.Program,
			h.endProgram(e.Holder), h.suspects())
	case e.Holder != 0:
		return fmt.Sprintf("The other program: %s. If it opens the port again by itself: %s", h.endProgram(e.Holder),
			h.suspects())
	}
	return "Close the other program that reads this port: a second window of this one, a serial monitor, a 3D " +
		"printer's host. " + h.suspects()
}

func (e *Error) hintSilent(h host) string {
	if e.Bytes == 0 {
		return "See that the board's lamp is lit, press its reset button and try again. If it stays silent, its " +
			"program is missing (evendraw board install puts it on) or this is another device's port."
	}
	return "The board talks, but not this language: evendraw board install puts the board's program on it; " +
		"or give the rate it was built for. Junk also comes when another program talks on the port. " + h.suspects()
}

func (e *Error) hintUnreadable() string {
	if e.Board != nil && e.Board.Protocol > frame.Version {
		return "The board's program is newer than this one: update this program, or load an older program onto the " +
			"board."
	}
	return "The board's program doesn't fit this one: evendraw board install puts on the one that does."
}
