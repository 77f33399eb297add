package cli

import (
	"cmp"
	"context"
	"errors"
	"io/fs"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/commission"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
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
	exitNoLoader    = 8
	exitWrongChip   = 9
	exitKept        = 10 // what is on a board was not overwritten
	exitOutdated    = 11 // nor was an older program updated
	exitInterrupted = 130
)

// statusOf returns the exit status that belongs to an error.
func statusOf(err error) int {
	var usage *hint.UsageError
	var port *board.Error
	var file *capture.Error
	var card *garage.Error
	var unread *garage.Unread
	var install *commission.InstallError
	switch {
	case errors.As(err, &usage):
		return exitUsage
	case errors.As(err, &unread) && unread.Damaged == 0:
		return exitDenied
	case errors.As(err, &unread):
		return exitDamaged
	case errors.As(err, &port):
		return cmp.Or(portStatus[port.Kind], exitFailed)
	case errors.As(err, &install):
		return installStatus[install.Kind]
	case errors.As(err, &file):
		return exitDamaged
	case errors.Is(err, fs.ErrPermission):
		return exitDenied
	case errors.As(err, &card):
		if card.Err != nil && (hint.NoFolder(err) || !errors.Is(card.Err, fs.ErrNotExist)) {
			return exitFailed
		}
		return exitDamaged
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	return exitFailed
}

// portStatus are the statuses of what can be wrong with a port; of what is not here it is exitFailed.
var portStatus = map[board.Kind]int{board.Absent: exitNoBoard, board.NoBoard: exitNoBoard, board.Silent: exitNoBoard,
	board.Busy: exitBusy, board.Denied: exitDenied, board.Vanished: exitLost}

// installStatus are the statuses of a board program that was not put on a board.
var installStatus = map[commission.InstallKind]int{commission.NoLoader: exitNoLoader,
	commission.WrongChip: exitWrongChip, commission.NotOverwritten: exitKept, commission.NotUpdated: exitOutdated}
