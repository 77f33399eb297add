package job

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"syscall"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// UsageError marks wrong use of the command line.
type UsageError struct{ Err error }

func (e *UsageError) Error() string { return e.Err.Error() }
func (e *UsageError) Unwrap() error { return e.Err }

// Usagef returns a UsageError.
func Usagef(format string, args ...any) error { return &UsageError{fmt.Errorf(format, args...)} }

// Hinted adds to an error what a mechanic can do about it.
type Hinted struct {
	Err  error
	Hint string
}

func (e *Hinted) Error() string { return e.Err.Error() }
func (e *Hinted) Unwrap() error { return e.Err }

// NoFile is the error of a file that was named and is not there.
func NoFile(name string) error {
	return &Hinted{Usagef("there is no file %s", name), "look at the spelling, and in which folder you are"}
}

// UseHint adds to an error of wrong use, if nothing better is known, which verb's help says how; others stay.
func UseHint(err error, verb string) error {
	var usage *UsageError
	if !errors.As(err, &usage) || hintOf(err) != "" {
		return err
	}
	return &Hinted{err, verb + " --help shows how"}
}

// hintOf returns what a mechanic can do about an error, "" when nothing is known.
func hintOf(err error) string {
	var h *Hinted
	var port *board.Error
	var file *capture.Error
	var card *garage.Error
	var still *frame.Standstill
	switch {
	case errors.As(err, &h):
		return h.Hint
	case errors.As(err, &port):
		return port.Hint()
	case errors.As(err, &still):
		return "the board's program is to be put right: evendraw board check --strict PORT says what in its bytes " +
			"breaks the protocol"
	case errors.As(err, &file):
		return "captures are made with evendraw capture; a table is CSV with t_us first, then c0… counts, v0… volts " +
			"or kpa0… kPa"
	case errors.As(err, &card) && card.Denied():
		return "you have no right to read it, as where evendraw was once run as another user; on Linux and macOS " +
			`that is undone by: sudo chown -R "$(id -un)" "` + filepath.Dir(card.Path) + `"`
	case errors.As(err, &card) && garage.CanSetAside(card):
		return "evendraw garage check sets it aside; a copy of the garage may hold it whole"
	case errors.As(err, &card) && card.Err == nil && card.Path != "":
		return "open the file in an editor and put right what is named, or move it away"
	}
	return placeHint(err, "; --garage DIR or EVENDRAW_GARAGE puts what is kept elsewhere")
}

// placeHint returns what can be done about a file or folder that can't be written or read, "" where that isn't the
// reason; elsewhere is how another place is taken.
func placeHint(err error, elsewhere string) string {
	switch {
	case NoFolder(err) && !errors.Is(err, fs.ErrPermission) && !isFull(err):
		return "no folder can be made there: take another place" + elsewhere
	case errors.Is(err, fs.ErrNotExist):
		return "look at the spelling; a folder that is not there is not made"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "you have no right to that place: take another" + elsewhere
	case isFull(err):
		return "the disk is full: make room" + elsewhere
	}
	return ""
}

// NoFolder reports whether a folder could not be made.
func NoFolder(err error) bool {
	var path *fs.PathError
	return errors.As(err, &path) && path.Op == "mkdir"
}

// isFull reports whether there is no room on the disk, or for this user.
func isFull(err error) bool { return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) }

// ReportAll prints errors as Report does, a hint that stands already but once.
func ReportAll(w io.Writer, errs []*garage.Error) {
	last := ""
	for _, err := range errs {
		if hint := hintOf(err); hint != last {
			last = hint
			Report(w, err)
			continue
		}
		fmt.Fprintln(w, "evendraw: "+plain.Lines(err.Error()))
	}
}

// Report prints an error and its hint.
func Report(w io.Writer, err error) {
	text := "evendraw: " + plain.Lines(err.Error())
	if hint := hintOf(err); hint != "" {
		text += "\nhint: " + plain.Lines(hint)
	}
	fmt.Fprintln(w, text)
}
