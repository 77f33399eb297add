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
captures. Ends with Ctrl-C, or after --for.`,
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
			return runRecord(cmd.Context(), r, o, name, cmd.ErrOrStderr())
		},
	}
	o.port.addFlags(cmd.Flags())
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
		return record(ctx, r, name, p.config(nil), p.announcement(), session.NewPace(ctx, p.engine), o.limit, errOut)
	}
	link, err := o.port.open(ctx, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	return record(ctx, r, name, r.config(link.Board()), link.Board(), link, o.limit, errOut)
}

func record(ctx context.Context, r *rig, name string, cfg session.Config, a *frame.Announcement, src io.Reader, limit time.Duration, errOut io.Writer) error {
	c, err := newCaptureFile(r, name, &cfg, a)
	if err != nil {
		return err
	}
	fmt.Fprintf(errOut, "recording to %s; Ctrl-C ends\n", c.path)
	sess := session.New(cfg, session.Options{Until: limit.Seconds(), Tee: c})
	err = sess.Run(ctx, src)
	closeErr := c.Close()
	link := sess.Snapshot().Link
	fmt.Fprintf(errOut, "%.1f s, %d frames, %d lost, %d damaged in %s\n", link.LastTime, link.Frames, link.Lost, link.Damaged, c.path)
	if ctx.Err() != nil {
		err = nil // Ctrl-C is the usual end
	}
	if err == nil {
		err = closeErr
	}
	return err
}

// captureFile is a capture being written.
type captureFile struct {
	path string
	file *os.File
	w    *capture.Writer
}

// newCaptureFile begins a capture. An empty name is made from the time, in the
// captures of the bike, or of the practice engine; an existing file is never
// overwritten.
func newCaptureFile(r *rig, name string, cfg *session.Config, a *frame.Announcement) (*captureFile, error) {
	bike := ""
	if r.bike != nil {
		bike = r.bike.Name
	}
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
		name = filepath.Join(dir, now.UTC().Format("2006-01-02T150405Z")+".cap")
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		if os.IsExist(err) {
			return nil, &hinted{fmt.Errorf("%s is there already", name), "give another name; a capture is never overwritten"}
		}
		return nil, err
	}
	w, err := capture.NewWriter(f, captureHead(cfg, a, bike, now))
	if err != nil {
		f.Close()
		return nil, err
	}
	return &captureFile{name, f, w}, nil
}

// Write appends the board's bytes.
func (c *captureFile) Write(p []byte) (int, error) { return c.w.Write(p) }

// Close puts the capture safely on the disk.
func (c *captureFile) Close() error {
	err := c.file.Sync()
	if e := c.file.Close(); err == nil {
		err = e
	}
	return err
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
