package job

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/head"
	"evendraw/internal/hint"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
)

// RecordOptions are what the command line says of a recording.
type RecordOptions struct {
	Port     settings.Port
	Practice string        // name of a practice bike, "" for a board
	Limit    time.Duration // of the board's time; 0 is none
	File     string        // "" is a new one in the bike's captures
}

// Record keeps the untouched bytes of a board, or of the practice engine, in a capture, until they end, the time is
// over, or ctx is done.
func Record(ctx context.Context, set *settings.Settings, o *RecordOptions, std settings.Streams) error {
	if err := checkCaptureName(o.File); err != nil { // before a board is waited for
		return err
	}
	var cfg session.Config
	var a *frame.Announcement
	var src io.Reader
	bike := ""
	if o.Practice != "" {
		p, err := set.PracticeBike(practice.Options{Name: o.Practice, Ambient: set.Ambient, Running: true},
			&std)
		if err != nil {
			return err
		}
		cfg, a, src = p.Config(), practice.Announcement(p.Bank), p.Source(ctx)
	} else {
		link, err := o.Port.Open(ctx, set.World, nil)
		if err != nil {
			return err
		}
		defer link.Close()
		cfg, a, src = set.BankConfig(link.Board(), &settings.Notes{Tell: std.Warn}), link.Board(), link
		bike = set.BikeName()
	}
	c, err := newCaptureFile(set, o.File, bike, &cfg, a)
	if err != nil {
		return err
	}
	fmt.Fprintf(std.Err, "recording to %s; Ctrl-C ends\n", c.path)
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	sess := session.New(cfg, session.Options{Until: o.Limit.Seconds(), Tee: c,
		OnRefused: func(why error) { std.Warn(why.Error()) },
		TeeFailed: func(err error) { stop(c.notWhole(err)) }})
	err = sess.Run(ctx, src)
	closeErr := c.Close()
	defer func() { tellEngine(std.Err, sess.Snapshot(), err) }()
	link := sess.Snapshot().Link
	fmt.Fprintf(std.Err, "%.1f s, %d frames, %d lost, %d damaged in %s\n", link.LastTime, link.Frames, link.Lost,
		link.Damaged, c.path)
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
	path  string
	named bool // by the user
}

// notWhole says why a capture ends too early.
func (c *captureFile) notWhole(err error) error {
	return c.hinted(fmt.Errorf("the capture could not be written to its end: %w", err))
}

// hinted adds to an error what can be done about it, which is another thing where the user has named the file.
func (c *captureFile) hinted(err error) error {
	if c.named {
		return hint.Named(err)
	}
	return err
}

// Close puts the capture safely on the disk, and returns the first error at any time.
func (c *captureFile) Close() error { return c.hinted(c.File.Close()) }

// newCaptureFile begins a capture. An empty name is made from the time, in the captures of the bike, or of the garage
// when bike is ""; an existing file is never overwritten.
func newCaptureFile(set *settings.Settings, name, bike string, cfg *session.Config,
	a *frame.Announcement) (*captureFile, error) {
	now := time.Now()
	c := &captureFile{path: name, named: name != ""}
	if !c.named {
		dir := set.Garage.Paths().Captures
		if bike != "" {
			var err error
			if dir, err = set.Garage.MakeCaptures(bike); err != nil {
				return nil, err
			}
		} else if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, fmt.Errorf("the folder for captures: %w", err)
		}
		c.path = filepath.Join(dir, now.UTC().Format("2006-01-02T150405Z")+capture.Ending)
	}
	f, err := capture.Create(c.path, head.Of(cfg, a, set.Version, bike, now))
	switch {
	case os.IsExist(err):
		return nil, isThere(c.path)
	case err != nil:
		return nil, c.hinted(err)
	}
	c.File = f
	return c, nil
}

// checkCaptureName refuses a name that no new capture can have: one of something that is there, and one that says that
// something else is in the file.
func checkCaptureName(name string) error {
	if _, err := os.Lstat(name); err == nil {
		return isThere(name)
	}
	if ending := filepath.Ext(name); ending != "" && !strings.EqualFold(ending, capture.Ending) {
		return hint.Usagef("%q: the name of a capture is to end in %s", name, capture.Ending)
	}
	return nil
}

// isThere refuses a capture's name that something else has.
func isThere(name string) error {
	return hint.With(fmt.Errorf("%s is there already", name), "give another name; a capture is never overwritten")
}
