package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/garage"
	"evendraw/internal/tell"
)

// Exit statuses.
const (
	exitFailed      = 1
	exitUsage       = 2
	exitNoBoard     = 3
	exitBusy        = 4
	exitDenied      = 5
	exitDamaged     = 6
	exitLost        = 7
	exitInterrupted = 130
)

// usageError marks wrong use of the command line.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return &usageError{fmt.Errorf(format, args...)} }

// hinted adds a hint to an error.
type hinted struct {
	err  error
	hint string
}

func (e *hinted) Error() string { return e.err.Error() }
func (e *hinted) Unwrap() error { return e.err }

// statusOf returns the exit status that belongs to an error.
func statusOf(err error) int {
	var usage *usageError
	var port *board.Error
	var file *capture.Error
	var card *garage.Error
	var damaged errDamaged
	switch {
	case errors.As(err, &usage):
		return exitUsage
	case errors.As(err, &damaged):
		return exitDamaged
	case errors.As(err, &port):
		return portStatus(port.Kind)
	case errors.As(err, &file):
		return exitDamaged
	case errors.As(err, &card):
		if card.Err != nil && !errors.Is(card.Err, fs.ErrNotExist) {
			return exitFailed
		}
		return exitDamaged
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	return exitFailed
}

func portStatus(k board.Kind) int {
	switch k {
	case board.Absent, board.NoBoard, board.Silent:
		return exitNoBoard
	case board.Busy:
		return exitBusy
	case board.Denied:
		return exitDenied
	case board.Vanished:
		return exitLost
	}
	return exitFailed
}

// hintOf returns what a mechanic can do about an error, "" when nothing is
// known.
func hintOf(err error) string {
	var h *hinted
	var port *board.Error
	var usage *usageError
	var file *capture.Error
	var card *garage.Error
	switch {
	case errors.As(err, &h):
		return h.hint
	case errors.As(err, &port):
		return port.Hint()
	case errors.As(err, &usage):
		return "evendraw --help shows how, evendraw VERB --help more"
	case errors.As(err, &file):
		return "captures are made with evendraw record; a table is CSV with t_us first, then c0… counts, v0… volts or kpa0… kPa"
	case errors.As(err, &card) && card.Err == nil:
		return "open the file in an editor and put right what is named, or move it away"
	}
	return ""
}

// report prints an error and its hint.
func report(w io.Writer, err error) {
	fmt.Fprintln(w, "evendraw: "+tell.Lines(err.Error()))
	if hint := hintOf(err); hint != "" {
		fmt.Fprintln(w, "hint: "+tell.Lines(hint))
	}
}
