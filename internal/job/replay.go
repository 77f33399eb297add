package job

import (
	"cmp"
	"context"
	"path/filepath"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/head"
	"evendraw/internal/hint"
	"evendraw/internal/keep"
	"evendraw/internal/plain"
	"evendraw/internal/screen"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// Replay shows a capture as it was seen live, at real speed.
func Replay(ctx context.Context, set *settings.Settings, o screen.Options, name string, std settings.Streams) error {
	in, file, err := settings.OpenInput(ctx, name, std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	if in.Table != nil {
		return hint.Usagef("%s is a table: replay shows captures; evendraw analyse reads tables", name)
	}
	src := &replaySource{in: in, name: name}
	l := newLive(set, &LiveOptions{Screen: o}, src, std)
	if src.cfg, err = set.InputConfig(in, &settings.TableOptions{}, &l.notes); err != nil {
		return err
	}
	if err = l.run(ctx); err == nil && l.sess.Snapshot().Link.Frames == 0 {
		std.Warn("no frame of a board in " + plain.Text(name))
	}
	return err
}

// replaySource is a capture in the place of a board.
type replaySource struct {
	cfg  session.Config
	in   *capture.Input
	name string
}

func (p *replaySource) config(*frame.Announcement) session.Config   { return p.cfg }
func (p *replaySource) prepare(context.Context, func(string)) error { return nil }
func (p *replaySource) close()                                      {}
func (p *replaySource) own() keep.Ownership                         { return keep.None }
func (p *replaySource) meet(context.Context, func(string)) (*frame.Announcement, error) {
	return nil, nil
}

func (p *replaySource) read(ctx context.Context, sess *session.Session, _ func(string)) error {
	return sess.Run(ctx, session.NewPace(ctx, p.in.Bytes))
}

// describe names the view by the bike in the capture's head, else by the file.
func (p *replaySource) describe(v *view.View) {
	v.Bike, v.Recording = "replay: "+cmp.Or(p.in.Head.Get(head.Bike), filepath.Base(p.name)), true
}
