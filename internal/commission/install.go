package commission

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"evendraw/internal/board"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
)

// inDialogue is an Installer that asks in a dialogue, unless all is agreed to.
func inDialogue(w *settings.World, d *typing.Dialogue, yes bool) *Installer {
	bar := &tell.Bar{Out: d.Out}
	i := &Installer{World: w, Say: d.Say, Progress: bar.Show, Ended: bar.End}
	i.Agreed = func(ctx context.Context, path string, seen *tell.OnBoard) (bool, error) {
		d.Say(tell.BeforeInstall(path, seen)...)
		if yes {
			return true, nil
		}
		return d.Agreed(ctx, "   Write it?")
	}
	if !yes {
		i.Press = func() { d.Say(tell.PressNow) }
	}
	return i
}

// Install puts the board program on a board through its boot loader, and says so. yes agrees to what is asked.
func Install(ctx context.Context, w *settings.World, port settings.Port, yes bool, std settings.Streams) error {
	d := typing.NewDialogue(ctx, std.In, std.Out)
	path, err := choosePort(ctx, w, port, yes, d)
	if err != nil {
		return err
	}
	d.Say(fmt.Sprintf("Looking at what is on %s; this takes up to ten seconds.", path))
	i := inDialogue(w, d, yes)
	seen, err := i.Look(ctx, path)
	if err != nil {
		return err
	}
	link, err := i.Install(ctx, path, seen)
	if err != nil {
		return err
	}
	d.Say("Next: evendraw board setup.")
	return link.Close()
}

// choosePort returns the port that is named, the only one, or the one that the user chooses.
func choosePort(ctx context.Context, w *settings.World, port settings.Port, yes bool, d *typing.Dialogue) (string,
	error) {
	if port.Path != "" {
		return port.Path, nil
	}
	opt := port.Options(w)
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
	tell.PortMenu(d.Out, names)
	for !yes {
		line, err := d.Ask(ctx, "   Its number:")
		if errors.Is(err, typing.ErrStopped) {
			break
		}
		if err != nil {
			return "", err
		}
		if n, err := strconv.Atoi(line); err == nil && n >= 1 && n <= len(ports) {
			return ports[n-1].Path, nil
		}
		d.Say(fmt.Sprintf("   %q is none of the numbers 1 to %d", plain.Text(line), len(ports)))
	}
	return "", hint.Usagef("there are %d serial ports: name the board's, as --port %s", len(ports), ports[0].Path)
}
