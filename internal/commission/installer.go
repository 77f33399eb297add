package commission

import (
	"context"
	"errors"

	"evendraw/internal/board"
	"evendraw/internal/bootloader"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// InstallKind says why a board program was not installed.
type InstallKind int

// The kinds of InstallError.
const (
	NoLoader       InstallKind = iota // no boot loader answers
	WrongChip                         // another chip, or one at another clock
	NotOverwritten                    // nobody said that what is on the board may go
	NotUpdated                        // nobody said that the older program may be updated
)

// InstallError says why a board has not the board program of this version.
type InstallError struct {
	Kind InstallKind
	Port string
	What string
}

func (e *InstallError) Error() string { return e.Port + ": " + e.What }

// Installer puts the board program on the board at a port.
type Installer struct {
	World *settings.World
	// Say tells lines, Agreed asks whether to write over what was seen at a port, Progress tells how far writing is,
	// Ended that it is over.
	Say      func(lines ...string)
	Agreed   func(ctx context.Context, path string, seen *tell.OnBoard) (bool, error)
	Progress func(done, of int)
	Ended    func()
	Press    func() // nil: nobody is there to press a button
}

// Look listens to what a board says by itself.
func (i *Installer) Look(ctx context.Context, path string) (*tell.OnBoard, error) {
	link, err := i.link(ctx, path, bootloader.ProgramBaud)
	if err == nil {
		link.Close()
		return &tell.OnBoard{Says: link.Board()}, nil
	}
	return SeenIn(err)
}

// SeenIn is what a failed opening of a port tells of a board that is there.
func SeenIn(err error) (*tell.OnBoard, error) {
	var port *board.Error
	if errors.As(err, &port) && (port.Kind == board.Silent || port.Kind == board.Unreadable) {
		return &tell.OnBoard{Says: port.Board, Bytes: port.Bytes}, nil
	}
	return nil, err
}

// Install examines the board at a port, on which so much was seen, asks, writes the program, and opens the board that
// then runs it.
func (i *Installer) Install(ctx context.Context, path string, seen *tell.OnBoard) (*board.Link, error) {
	if err := i.write(ctx, path, seen); err != nil {
		return nil, err
	}
	link, err := i.link(ctx, path, bootloader.ProgramBaud)
	if silent := (*board.Error)(nil); errors.As(err, &silent) && silent.Kind == board.Silent {
		return nil, i.slow(ctx, path, err)
	}
	if err != nil {
		return nil, err
	}
	i.Say(tell.Installed(link.Board(), seen.Says)...)
	return link, nil
}

// write does all but the look at what then runs.
func (i *Installer) write(ctx context.Context, path string, seen *tell.OnBoard) (err error) {
	line, err := i.open(ctx, path)
	if err != nil {
		return err
	}
	defer line.Close()
	seen.Found, err = bootloader.Examine(ctx, line, bootloader.Program(), bootloader.Options{Press: i.Press})
	if err != nil {
		return installError(path, err)
	}
	agreed, err := i.Agreed(ctx, path, seen)
	if err != nil {
		return err
	}
	if !agreed {
		kind := NotOverwritten
		if seen.Outdated() {
			kind = NotUpdated
		}
		return &InstallError{kind, path, tell.NotInstalled(seen)}
	}
	defer i.Ended()
	err = bootloader.Install(ctx, line, bootloader.Program(), bootloader.Options{Press: i.Press, Progress: i.Progress})
	if err != nil && installError(path, err) == err { // it had begun
		if ctx.Err() != nil { // an end that the user wants has no error to be told
			i.Ended()
			i.Say(tell.CutHint)
		}
		return hint.With(err, tell.CutHint)
	}
	return installError(path, err)
}

// link opens the board at a port.
func (i *Installer) link(ctx context.Context, path string, baud int) (*board.Link, error) {
	return settings.Port{Path: path, Baud: baud}.Open(ctx, i.World, nil)
}

// open opens the port to talk to its boot loader.
func (i *Installer) open(ctx context.Context, path string) (*board.Talk, error) {
	return board.OpenTalk(ctx, path, bootloader.ProgramBaud, settings.Port{}.Options(i.World))
}

// slow finds out whether a board that is silent at the program's rate talks at half of it, as one with half the clock
// does. That one is made silent again: nothing wrong is to be read from it. silent is the error of any other.
func (i *Installer) slow(ctx context.Context, path string, silent error) error {
	link, err := i.link(ctx, path, bootloader.ProgramBaud/2)
	if err != nil {
		return hint.With(silent, tell.StillLeft)
	}
	link.Close()
	line, err := i.open(ctx, path)
	if err != nil {
		return err
	}
	defer line.Close()
	if err := bootloader.Install(ctx, line, bootloader.Still(), bootloader.Options{Press: i.Press}); err != nil {
		return installError(path, err)
	}
	return hint.With(&InstallError{WrongChip, path, tell.SlowClock}, tell.SlowHint)
}

// installError puts the boot loader's own errors in words.
func installError(path string, err error) error {
	var chip *bootloader.ChipError
	switch {
	case errors.Is(err, bootloader.ErrNoLoader):
		return hint.With(&InstallError{NoLoader, path, tell.NoLoader}, tell.NoLoaderHint)
	case errors.As(err, &chip):
		return hint.With(&InstallError{WrongChip, path, tell.WrongChip(chip.Chip)}, tell.OtherChipHint)
	}
	return err
}
