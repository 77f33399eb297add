package job

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"evendraw/internal/board"
	"evendraw/internal/bootloader"
	"evendraw/internal/plain"
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

func (e *InstallError) Error() string { return "board: " + e.Port + ": " + e.What }

// installer puts the board program on the board at a port.
type installer struct {
	world *World
	// say tells lines, agreed asks whether to write over what was seen at a port, progress tells how far writing is,
	// ended that it is over.
	say      func(lines ...string)
	agreed   func(ctx context.Context, path string, seen *tell.OnBoard) (bool, error)
	progress func(done, of int)
	ended    func()
	press    func() // nil: nobody is there to press a button
}

// inDialogue is an installer that asks in a dialogue, unless all is agreed to.
func inDialogue(w *World, d *dialogue, yes bool) *installer {
	bar := &tell.Bar{Out: d.out}
	i := &installer{world: w, say: d.say, progress: bar.Show, ended: bar.End}
	i.agreed = func(ctx context.Context, path string, seen *tell.OnBoard) (bool, error) {
		d.say(tell.BeforeInstall(path, seen)...)
		if yes {
			return true, nil
		}
		return d.agreed(ctx, "   Write it?")
	}
	if !yes {
		i.press = func() { d.say(tell.PressNow) }
	}
	return i
}

// Install puts the board program on a board through its boot loader, and says so. yes agrees to what is asked.
func Install(ctx context.Context, w *World, port Port, yes bool, std Streams) error {
	d := newDialogue(ctx, std)
	path, err := choosePort(ctx, w, port, yes, d)
	if err != nil {
		return err
	}
	d.say(fmt.Sprintf("Looking at what is on %s; this takes up to ten seconds.", path))
	i := inDialogue(w, d, yes)
	seen, err := i.look(ctx, path)
	if err != nil {
		return err
	}
	link, err := i.install(ctx, path, seen)
	if err != nil {
		return err
	}
	d.say("Next: evendraw board setup.")
	return link.Close()
}

// choosePort returns the port that is named, the only one, or the one that the user chooses.
func choosePort(ctx context.Context, w *World, port Port, yes bool, d *dialogue) (string, error) {
	if port.Path != "" {
		return port.Path, nil
	}
	opt := port.options(w)
	ports, err := opt.List()
	switch {
	case err != nil:
		return "", err
	case len(ports) == 0:
		return "", &board.Error{Kind: board.NoBoard}
	case len(ports) == 1:
		return ports[0].Path, nil
	}
	var names []string
	for _, p := range ports {
		names = append(names, fmt.Sprintf("%s %s %s", p.Path, plain.Text(p.Maker), plain.Text(p.Product)))
	}
	tell.PortMenu(d.out, names)
	for !yes {
		line, err := d.ask(ctx, "   Its number:")
		if errors.Is(err, errStopped) {
			break
		}
		if err != nil {
			return "", err
		}
		if n, err := strconv.Atoi(line); err == nil && n >= 1 && n <= len(ports) {
			return ports[n-1].Path, nil
		}
	}
	return "", Usagef("there are %d serial ports: name the board's, as --port %s", len(ports), ports[0].Path)
}

// look listens to what a board says by itself.
func (i *installer) look(ctx context.Context, path string) (*tell.OnBoard, error) {
	opt := Port{Baud: bootloader.ProgramBaud}.options(i.world)
	link, err := board.Open(ctx, path, opt)
	if err == nil {
		link.Close()
		return &tell.OnBoard{Says: link.Board()}, nil
	}
	return seenIn(err)
}

// seenIn is what a failed opening of a port tells of a board that is there.
func seenIn(err error) (*tell.OnBoard, error) {
	var port *board.Error
	if errors.As(err, &port) && (port.Kind == board.Silent || port.Kind == board.Unreadable) {
		return &tell.OnBoard{Says: port.Board, Bytes: port.Bytes}, nil
	}
	return nil, err
}

// install examines the board at a port, on which so much was seen, asks, writes the program, and opens the board that
// then runs it.
func (i *installer) install(ctx context.Context, path string, seen *tell.OnBoard) (*board.Link, error) {
	if err := i.write(ctx, path, seen); err != nil {
		return nil, err
	}
	opt := Port{Baud: bootloader.ProgramBaud}.options(i.world)
	link, err := board.Open(ctx, path, opt)
	if silent := (*board.Error)(nil); errors.As(err, &silent) && silent.Kind == board.Silent {
		return nil, i.slow(ctx, path, err)
	}
	if err != nil {
		return nil, err
	}
	i.say(tell.Installed(link.Board(), seen.Says)...)
	return link, nil
}

// write does all but the look at what then runs.
func (i *installer) write(ctx context.Context, path string, seen *tell.OnBoard) (err error) {
	line, err := i.open(ctx, path)
	if err != nil {
		return err
	}
	defer line.Close()
	seen.Found, err = bootloader.Examine(ctx, line, bootloader.Program(), bootloader.Options{Press: i.press})
	if err != nil {
		return installError(path, err)
	}
	agreed, err := i.agreed(ctx, path, seen)
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
	defer i.ended()
	err = bootloader.Install(ctx, line, bootloader.Program(), bootloader.Options{Press: i.press, Progress: i.progress})
	if err != nil && installError(path, err) == err { // it had begun
		if ctx.Err() != nil { // an end that the user wants has no error to be told
			i.ended()
			i.say(tell.CutHint)
		}
		return &Hinted{err, tell.CutHint}
	}
	return installError(path, err)
}

// open opens the port to talk to its boot loader.
func (i *installer) open(ctx context.Context, path string) (*board.Talk, error) {
	return board.OpenTalk(ctx, path, bootloader.ProgramBaud, Port{}.options(i.world))
}

// slow finds out whether a board that is silent at the program's rate talks at half of it, as one with half the clock
// does. That one is made silent again: nothing wrong is to be read from it. silent is the error of any other.
func (i *installer) slow(ctx context.Context, path string, silent error) error {
	opt := Port{Baud: bootloader.ProgramBaud / 2}.options(i.world)
	link, err := board.Open(ctx, path, opt)
	if err != nil {
		return &Hinted{silent, tell.StillLeft}
	}
	link.Close()
	line, err := i.open(ctx, path)
	if err != nil {
		return err
	}
	defer line.Close()
	if err := bootloader.Install(ctx, line, bootloader.Still(), bootloader.Options{Press: i.press}); err != nil {
		return installError(path, err)
	}
	return &Hinted{&InstallError{WrongChip, path, tell.SlowClock}, tell.SlowHint}
}

// installError puts the boot loader's own errors in words.
func installError(path string, err error) error {
	var chip *bootloader.ChipError
	switch {
	case errors.Is(err, bootloader.ErrNoLoader):
		return &Hinted{&InstallError{NoLoader, path, tell.NoLoader}, tell.NoLoaderHint}
	case errors.As(err, &chip):
		return &Hinted{&InstallError{WrongChip, path, tell.WrongChip(chip.Chip)}, tell.OtherChipHint}
	}
	return err
}
