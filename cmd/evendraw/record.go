package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/capture"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/session"
)

type recordOptions struct {
	port     portOptions
	practice string
	limit    time.Duration
}

func newRecordCommand(r *rig) *cobra.Command {
	o := &recordOptions{}
	cmd := &cobra.Command{
		Use:   "record [FILE]",
		Short: "Keep the board's bytes in a capture",
		Long: `Keep the untouched bytes of the board under a small text head: for a look later,
for another eye, or for a bug report. Without FILE it goes to the bike's
captures. Ends after --for, or with Ctrl-C (exit status 130; the capture is whole).`,
		Example: `  evendraw record --for 60s
  evendraw record --practice practice.cap --for 20s`,
		Args: usageArgs(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkFor(cmd, o.limit); err != nil {
				return err
			}
			name := ""
			if len(args) == 1 {
				name = args[0]
			}
			if _, ok := engine.ScenarioNamed(name); ok && o.practice == freshBike { // --practice NAME
				o.practice, name = name, ""
			}
			return runRecord(cmd.Context(), r, o, name, cmd.ErrOrStderr())
		},
	}
	o.port.addFlags(&r.world, cmd.Flags())
	addPracticeFlag(cmd.Flags(), &o.practice)
	cmd.Flags().DurationVar(&o.limit, "for", 0, "stop after that much of the board's time")
	return cmd
}

func runRecord(ctx context.Context, r *rig, o *recordOptions, name string, errOut io.Writer) error {
	if err := r.open(); err != nil {
		return err
	}
	if err := r.chooseBike(); err != nil {
		return err
	}
	if o.practice != "" {
		p, err := newPractice(r, o.practice, true)
		if err != nil {
			return err
		}
		cfg := p.config()
		c, err := newCaptureFile(r, name, "", &cfg, p.announcement())
		if err != nil {
			return err
		}
		return record(ctx, c, cfg, session.NewPace(ctx, p.engine), o.limit, errOut)
	}
	link, err := o.port.open(ctx, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	cfg := r.config(link.Board())
	c, err := newCaptureFile(r, name, r.cardName(), &cfg, link.Board())
	if err != nil {
		return err
	}
	return record(ctx, c, cfg, link, o.limit, errOut)
}

// record copies a source to a capture until it ends, the time is over, or ctx is
// done.
func record(ctx context.Context, c *captureFile, cfg session.Config, src io.Reader, limit time.Duration, errOut io.Writer) error {
	fmt.Fprintf(errOut, "recording to %s; Ctrl-C ends\n", c.path)
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	sess := session.New(cfg, session.Options{Until: limit.Seconds(), Tee: c, TeeFailed: func(err error) {
		stop(fmt.Errorf("the capture could not be written to its end: %w", err))
	}})
	err := sess.Run(ctx, src)
	closeErr := c.Close()
	link := sess.Snapshot().Link
	fmt.Fprintf(errOut, "%.1f s, %d frames, %d lost, %d damaged in %s\n", link.LastTime, link.Frames, link.Lost, link.Damaged, c.path)
	switch {
	case err == nil:
		err = closeErr
	case ctx.Err() != nil:
		err = context.Cause(ctx)
	}
	if err == nil && link.Frames == 0 {
		err = fmt.Errorf("no frame came: the capture holds nothing")
	}
	return err
}

// captureFile is a capture being written.
type captureFile struct {
	*capture.File
	path string
}

// newCaptureFile begins a capture. An empty name is made from the time, in the
// captures of the bike, or of the garage when bike is ""; an existing file is
// never overwritten.
func newCaptureFile(r *rig, name, bike string, cfg *session.Config, a *frame.Announcement) (*captureFile, error) {
	now := time.Now()
	if name == "" {
		dir := filepath.Join(r.garage.Paths().Dir, "captures")
		if bike != "" {
			var err error
			if dir, err = r.garage.MakeCaptures(bike); err != nil {
				return nil, err
			}
		} else if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, err
		}
		name = filepath.Join(dir, now.UTC().Format("2006-01-02T150405Z")+captureEnding)
	}
	f, err := capture.Create(name, captureHead(cfg, a, bike, now))
	if err != nil {
		if os.IsExist(err) {
			return nil, &hinted{fmt.Errorf("%s is there already", name), "give another name; a capture is never overwritten"}
		}
		return nil, err
	}
	return &captureFile{f, name}, nil
}

// syncSteps are a journal's steps as a record keeps them.
func syncSteps(j *session.Journal) []garage.RecordStep {
	var out []garage.RecordStep
	for _, s := range j.Steps {
		out = append(out, garage.RecordStep{TimeS: garage.NullFloat(s.Time), Screw: s.Advice.ScrewName,
			Direction: string(s.Advice.Direction), Turns: garage.NullFloat(s.Advice.Turns), SpreadBeforeKPa: garage.NullKPa(s.Spread)})
	}
	return out
}
