package job

import (
	"context"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/commission"
	"evendraw/internal/hint"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// What the screen does for a board without a program.

// wantsInstall takes a word from the screen.
func (b *boardSource) wantsInstall() {
	select {
	case b.install <- struct{}{}:
	default: // it is known already
	}
}

// openOrAsked opens the board, unless the user asks for a program on one that is bare.
func (b *boardSource) openOrAsked(ctx context.Context, bare bool, news func(string)) (link *board.Link, asked bool,
	err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	end := beside(ctx, func(ctx context.Context) {
		for !asked {
			select {
			case <-b.install:
				asked = bare
			case <-ctx.Done():
				return
			}
		}
		cancel()
	})
	link, err = b.port.Open(ctx, b.world, func(p board.Progress) { news(progressText(p)) })
	if end(); asked && err == nil {
		link.Close()
	}
	return link, asked, err
}

const (
	// agreeWait is how long the question whether to write stands on the screen (chosen: time to read it twice).
	agreeWait = 30 * time.Second
	// refusalStays is how long the screen says why nothing was written (chosen).
	refusalStays = 10 * time.Second
)

// putProgram puts the board program on a bare board, the screen asking. A failure is told, and comes back as that of a
// silent board: it may be tried again.
func (b *boardSource) putProgram(ctx context.Context, path string, seen *tell.OnBoard, news func(string)) (*board.Link,
	error) {
	shown := view.BareBoard{Port: path, Busy: true}
	b.bare(shown)
	i := &commission.Installer{World: b.world, Say: func(...string) {}, Ended: func() {}}
	i.Agreed = func(ctx context.Context, _ string, seen *tell.OnBoard) (bool, error) {
		b.bare(view.BareBoard{Port: path, Loses: seen.Loses()})
		select {
		case <-b.install:
		case <-time.After(agreeWait):
			return false, nil
		case <-ctx.Done():
			return false, context.Cause(ctx)
		}
		b.bare(shown)
		return true, nil
	}
	i.Progress = func(done, of int) {
		shown.Done = 100 * done / of
		b.bare(shown)
	}
	link, err := i.Install(ctx, path, seen)
	if err == nil || ctx.Err() != nil {
		return link, err
	}
	select {
	case <-b.install: // pressed once too often
	default:
	}
	b.bare(view.BareBoard{})
	news(err.Error() + ". " + hint.Of(err))
	select {
	case <-time.After(refusalStays):
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
	return nil, &board.Error{Kind: board.Silent, Port: path}
}
