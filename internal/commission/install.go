package commission

import (
	"context"
	"errors"
	"evendraw/internal/board"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"evendraw/internal/tell"
	"fmt"
	"strconv"
)

// inDialogue is an Installer that asks in a dialogue, unless all is agreed to.
func inDialogue(w *job.World, d *dialogue, yes bool) *job.Installer {
	bar := &tell.Bar{Out: d.out}
	i := &job.Installer{World: w, Say: d.say, Progress: bar.Show, Ended: bar.End}
	i.Agreed = func(ctx context.Context, path string, seen *tell.OnBoard) (bool, error) {
		d.say(tell.BeforeInstall(path, seen)...)
		if yes {
			return true, nil
		}
		return d.agreed(ctx, "   Write it?")
	}
	if !yes {
		i.Press = func() { d.say(tell.PressNow) }
	}
	return i
}

// Install puts the board program on a board through its boot loader, and says so. yes agrees to what is asked.
func Install(ctx context.Context, w *job.World, port job.Port, yes bool, std job.Streams) error {
	d := newDialogue(ctx, std)
	path, err := choosePort(ctx, w, port, yes, d)
	if err != nil {
		return err
	}
	d.say(fmt.Sprintf("Looking at what is on %s; this takes up to ten seconds.", path))
	i := inDialogue(w, d, yes)
	seen, err := i.Look(ctx, path)
	if err != nil {
		return err
	}
	link, err := i.Install(ctx, path, seen)
	if err != nil {
		return err
	}
	d.say("Next: evendraw board setup.")
	return link.Close()
}

// choosePort returns the port that is named, the only one, or the one that the user chooses.
func choosePort(ctx context.Context, w *job.World, port job.Port, yes bool, d *dialogue) (string, error) {
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
	return "", job.Usagef("there are %d serial ports: name the board's, as --port %s", len(ports), ports[0].Path)
}
