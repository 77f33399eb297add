package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

func newReplayCommand(r *rig) *cobra.Command {
	o := &liveOptions{}
	cmd := &cobra.Command{
		Use:   "replay FILE",
		Short: "Show a capture on the screen at real speed",
		Long: `Show a capture on the screen as it was seen live, at real speed, with the
settings in its head. Nothing is saved.`,
		Example: `  evendraw replay morning.cap
  evendraw record --practice --for 60s try.cap && evendraw replay try.cap`,
		Args:              usageArgs(cobra.ExactArgs(1)),
		ValidArgsFunction: completeCaptures,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runReplay(cmd.Context(), r, o, args[0], cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.display.addFlags(cmd.Flags())
	return cmd
}

func runReplay(ctx context.Context, r *rig, o *liveOptions, name string, stdin io.Reader, out, errOut io.Writer) error {
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
	l := newLive(r, o, &replaying{cfg: cfg, in: in, name: name}, out, errOut)
	if err = l.run(ctx); err == nil && l.sess.Snapshot().Link.Frames == 0 {
		fmt.Fprintln(errOut, "evendraw: no frame of a board in "+tell.Plain(name))
	}
	return err
}

// replaying is a capture in the place of a board.
type replaying struct {
	cfg  session.Config
	in   *capture.Input
	name string
}

func (p *replaying) config() session.Config        { return p.cfg }
func (p *replaying) prepare(context.Context) error { return nil }
func (p *replaying) close()                        {}
func (p *replaying) own() ownership                { return nobodys }

func (p *replaying) configFor(*frame.Announcement) session.Config                    { return p.cfg }
func (p *replaying) meet(context.Context, func(string)) (*frame.Announcement, error) { return nil, nil }

func (p *replaying) read(ctx context.Context, sess *session.Session, _ func(string)) error {
	return sess.Run(ctx, session.NewPace(ctx, p.in.Bytes))
}

// dress names the view by the bike in the capture's head, else by the file.
func (p *replaying) dress(v *view.View) {
	name := p.in.Head.Get(keyBike)
	if name == "" {
		name = filepath.Base(p.name)
	}
	v.Bike = "replay: " + name
}
