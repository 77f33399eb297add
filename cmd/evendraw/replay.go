package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"evendraw/internal/session"
	"evendraw/internal/view"
)

type replayOptions struct {
	display displayOptions
}

func newReplayCommand(r *rig) *cobra.Command {
	o := &replayOptions{}
	cmd := &cobra.Command{
		Use:   "replay FILE",
		Short: "Show a capture on the screen at real speed",
		Long: `Show a capture on the screen as it was seen live, at real speed, with the
settings in its head. Nothing is saved by itself.`,
		Example: `  evendraw replay morning.cap`,
		Args:    usageArgs(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runReplay(cmd.Context(), r, o, args[0], cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.display.addFlags(cmd.Flags())
	return cmd
}

func runReplay(ctx context.Context, r *rig, o *replayOptions, name string, stdin io.Reader, out, errOut io.Writer) error {
	if err := r.open(); err != nil {
		return err
	}
	if err := r.chooseBike(); err != nil && r.bikeName != "" {
		return err
	}
	in, file, err := openInput(name, stdin)
	if err != nil {
		return err
	}
	defer file.Close()
	if in.Table != nil {
		return usagef("%s is a table: replay shows captures; evendraw analyse reads tables", name)
	}
	cfg, err := r.inputConfig(in, "")
	if err != nil {
		return err
	}
	l := &live{rig: r, opt: &liveOptions{display: o.display}, out: out, err: errOut, news: make(chan view.Event, 64)}
	l.keeper = &keeper{rig: r, capture: name, unit: r.unit().Name}
	l.replay = &replaying{cfg: cfg, src: session.NewPace(ctx, in.Bytes), name: replayName(in.Head.Get(keyBike), name)}
	if !isTerminal(out) {
		err = l.runLines(ctx)
	} else {
		err = l.runScreen(ctx)
	}
	if err == nil && l.sess.Snapshot().Link.Frames == 0 {
		fmt.Fprintln(errOut, "evendraw: no frame of a board in "+name)
	}
	return err
}

// replayName is what a replay is called: by the bike, or by the file.
func replayName(bike, file string) string {
	if bike != "" {
		return bike
	}
	return filepath.Base(file)
}

// replaying is a capture in the place of a board.
type replaying struct {
	cfg  session.Config
	src  io.Reader
	name string
}
