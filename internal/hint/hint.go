// Package hint holds errors beside which stands what a mechanic can do about them, and prints them.
//
// In: an error, and what is known of it. Out: "evendraw: what is wrong", and "hint: what to do". What is wrong use of
// the command line is marked as such. Begin with With and Report.
package hint

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
type UsageError struct{ error }

func (e *UsageError) Unwrap() error { return e.error }

// Usage marks an error as wrong use.
func Usage(err error) error { return &UsageError{err} }

// Usagef returns a UsageError.
func Usagef(format string, args ...any) error { return Usage(fmt.Errorf(format, args...)) }

// hinted is an error with what a mechanic can do about it.
type hinted struct {
	error
	hint string
}

func (e *hinted) Unwrap() error { return e.error }

// With adds to an error what a mechanic can do about it.
func With(err error, hint string) error { return &hinted{err, hint} }

// NoFile is the error of a file that was named and is not there.
func NoFile(name string) error {
	return With(Usagef("there is no file %s", name), "look at the spelling, and in which folder you are")
}

// Use adds to an error of wrong use, if nothing better is known, which verb's help says how; others stay.
func Use(err error, verb string) error {
	var usage *UsageError
	if !errors.As(err, &usage) || Of(err) != "" {
		return err
	}
	return With(err, verb+" --help shows how")
}

// Of returns what a mechanic can do about an error, "" when nothing is known.
func Of(err error) string {
	var h *hinted
	var port *board.Error
	var file *capture.Error
	var card *garage.Error
	var still *frame.Standstill
	switch {
	case errors.As(err, &h):
		return h.hint
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
	return place(err, "; --garage DIR or EVENDRAW_GARAGE puts what is kept elsewhere")
}

// place returns what can be done about a file or folder that can't be written or read, "" where that isn't the
// reason; elsewhere is how another place is taken.
func place(err error, elsewhere string) string {
	switch {
	case NoFolder(err) && !errors.Is(err, fs.ErrPermission) && !IsFull(err):
		return "no folder can be made there: take another place" + elsewhere
	case errors.Is(err, fs.ErrNotExist):
		return "look at the spelling; a folder that is not there is not made"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "you have no right to that place: take another" + elsewhere
	case IsFull(err):
		return "the disk is full: make room" + elsewhere
	}
	return ""
}

// Named adds to the error of a file that the user has named what can be done about it, where the place is to blame.
func Named(err error) error {
	if what := place(err, "; another name puts the file elsewhere"); what != "" {
		return With(err, what)
	}
	return err
}

// NoFolder reports whether a folder could not be made.
func NoFolder(err error) bool {
	var path *fs.PathError
	return errors.As(err, &path) && path.Op == "mkdir"
}

// Short is an error in a line that stands where there is little room: of a full disk that alone, wherever it was met.
func Short(err error) string {
	if IsFull(err) {
		return "the disk is full"
	}
	return err.Error()
}

// IsFull reports whether there is no room on the disk, or for this user.
func IsFull(err error) bool { return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) }

// ReportAll prints errors as Report does, a hint that stands already but once.
func ReportAll(w io.Writer, errs []*garage.Error) {
	last := ""
	for _, err := range errs {
		if hint := Of(err); hint != last {
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
	if hint := Of(err); hint != "" {
		text += "\nhint: " + plain.Lines(hint)
	}
	fmt.Fprintln(w, text)
}
