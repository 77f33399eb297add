package board

import (
	"fmt"
	"io/fs"

	"evendraw/internal/frame"
)

const (
	groupReadWrite fs.FileMode = 0o060 // group may read and write

	suspects = "On Linux the usual suspects are ModemManager (sudo systemctl stop ModemManager) and, if nobody here " +
		"uses a braille display, brltty (sudo apt remove brltty)."
)

// Hint returns what to do about the error, in whole sentences.
func (e *Error) Hint() string {
	switch e.Kind {
	case Absent:
		return "Check that the lead is in at both ends and that the port's name is right; or give no port at all, " +
			"and the board is looked for."
	case NoBoard:
		return e.hintNoBoard()
	case Several:
		return "Unplug the boards that you don't need, or say which one you want: by its port or by its serial number."
	case Denied:
		return e.hintDenied()
	case Busy:
		return e.hintBusy()
	case NotSerial:
		return "Give the board's own port, such as /dev/ttyUSB0 or /dev/ttyACM0 on Linux, /dev/cu.usbserial on " +
			"macOS, COM3 on Windows. A recorded file is opened with analyse instead."
	case Vanished:
		return "Push the lead home at both ends and keep it away from the ignition leads. If the port goes without " +
			"anyone touching the lead, another program may have taken it. " + suspects
	case Silent:
		return e.hintSilent()
	case Unreadable:
		return e.hintUnreadable()
	}
	return "Unplug the board, wait five seconds, plug it in again and retry; try another USB socket or lead."
}

func (e *Error) hintNoBoard() string {
	if len(e.Answers) > 0 {
		return "Plug in the wanted board, or choose the one that answers."
	}
	return "Plug the board in with a data cable (many leads only charge). " +
		"See that the driver of its USB chip is there: Linux has it, " +
		"Windows and macOS may need the one for CH340, CP210x or FTDI. " +
		"On Linux your user must be in the group of the port, mostly dialout: " +
		"sudo usermod -aG dialout $USER, then log out and in again. " +
		"If the port shows up and goes at once: " + suspects
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

func (e *Error) hintBusy() string {
	switch {
	case e.Holder == self:
		return "This program has the port open already; use the one that is running."
	case e.Program != "":
		return fmt.Sprintf("Close %s, or end it with: kill %d. If it opens the port again by itself: %s", e.Program,
			e.Holder, suspects)
	case e.Holder != 0:
		return fmt.Sprintf("End the other program with: kill %d. If it opens the port again by itself: %s", e.Holder,
			suspects)
	}
	return "Close the other program that reads this port: a second window of this one, a serial monitor, a 3D " +
		"printer's host. " + suspects
}

func (e *Error) hintSilent() string {
	if e.Bytes == 0 {
		return "See that the board's lamp is lit, press its reset button and try again. If it stays silent, the " +
			"board's program is missing or this is another device's port."
	}
	return "The board talks, but not this language: load the board's program onto it, " +
		"or give the rate it was built for. Junk also comes when another program talks on the port. " + suspects
}

func (e *Error) hintUnreadable() string {
	if e.Board != nil && e.Board.Protocol > frame.Version {
		return "The board's program is newer than this one: update this program, or load an older program onto the " +
			"board."
	}
	return "The board's program doesn't fit this one: load the program that belongs to this version onto the board."
}
