package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"evendraw/internal/plain"
)

// Error says what is wrong with a file, and where.
type Error struct {
	Path  string // "" when it is about no file
	Line  int    // from 1; 0 is unknown
	Field string // the key as it stands in the file, such as `screw "1-2"`; "" when it is none
	// Problem says what is wrong, to be read after the field.
	Problem string
	// Newer is set when a newer program wrote the file: it is not damaged.
	Newer bool
	// Err is the cause, nil if the problem is the file's content.
	Err error
}

// Error returns one line without control characters. It names no package: a mechanic reads it.
func (e *Error) Error() string {
	var b strings.Builder
	if e.Path != "" {
		b.WriteString(e.Path)
		if e.Line > 0 {
			fmt.Fprintf(&b, " line %d", e.Line)
		}
		b.WriteString(": ")
	}
	if e.Field != "" {
		b.WriteString(e.Field + ": ")
	}
	b.WriteString(e.Problem)
	if e.Err != nil {
		b.WriteString(": " + cause(e.Err))
	}
	return plain.Text(b.String())
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// notRead is the problem of a file that could not be read at all.
const notRead = "can't be read"

// Denied reports whether the file was not read for want of the right to: it may be whole.
func (e *Error) Denied() bool { return e.Problem == notRead && errors.Is(e.Err, fs.ErrPermission) }

// cause returns the text of err without the path that Error gives already.
func cause(err error) string {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Op + ": " + path.Err.Error()
	case errors.As(err, &link):
		return link.Op + ": " + link.Err.Error()
	}
	return err.Error()
}

// AsError returns err as an Error about path; one that names a path already is left as it is.
func AsError(path string, err error) *Error {
	var e *Error
	if errors.As(err, &e) {
		if e.Path == "" {
			c := *e
			c.Path = path
			return &c
		}
		return e
	}
	return &Error{Path: path, Problem: notRead, Err: err}
}

// NotSaved returns the Error of a save that failed, nil if err is nil.
func NotSaved(path string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, ErrUnsynced):
		return &Error{Path: path, Problem: "was saved", Err: err}
	}
	return &Error{Path: path, Problem: "was not saved, nothing is changed", Err: err}
}
