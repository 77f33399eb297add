package commission

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// strictSeconds is how long a port is listened to: ten announcements.
const strictSeconds = 10

// strictBaud is the rate where none is given: the usual one of the protocol.
const strictBaud = 500_000

// CheckStrictly holds the bytes of a port or a file against the protocol.
func CheckStrictly(ctx context.Context, w *settings.World, target string, baud int, asJSON bool,
	std settings.Streams) error {
	src, name, err := strictSource(ctx, w, target, baud, std.Err)
	if err != nil {
		return err
	}
	defer src.Close()
	s := strict{Audit: tell.Audit{Name: name, Lines: frame.LineAudit{File: settings.IsFile(target)}}}
	_, err = io.Copy(&s, src)
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	s.finish()
	if !asJSON {
		s.Text(std.Out)
	} else if err := s.JSON(std.Out); err != nil {
		return err
	}
	if len(s.Found) == 0 {
		return nil
	}
	broken := "a rule of the protocol is broken"
	if n := len(s.Found); n > 1 {
		broken = fmt.Sprintf("%d rules of the protocol are broken", n)
	}
	return hint.With(fmt.Errorf("%s: %s", plain.Text(name), broken),
		"firmware-protocol/PROTOCOL.md has each rule, and one frame worked byte by byte")
}

// strict holds bytes against both forms of the protocol, as which it is shows only in the end.
type strict struct {
	tell.Audit
	zeros bool // a delimiter of frames was seen
}

// Write takes the next bytes.
func (s *strict) Write(p []byte) (int, error) {
	s.Bytes += uint64(len(p))
	s.zeros = s.zeros || bytes.IndexByte(p, 0) >= 0
	s.Frames.Push(p)
	s.Lines.Push(p)
	return len(p), nil
}

func (s *strict) finish() {
	s.Frames.Finish()
	s.Lines.Finish()
	s.Printed = s.Frames.Announcements() == 0 && (s.Lines.Board() != nil || !s.zeros && s.Lines.Lines() > 0)
	s.Found = s.Frames.Findings()
	if s.Printed {
		s.Found = s.Lines.Findings()
	}
}

// strictSource opens a file, or a port for strictSeconds.
func strictSource(ctx context.Context, w *settings.World, target string, baud int, errOut io.Writer) (io.ReadCloser,
	string, error) {
	if settings.IsFile(target) {
		f, err := os.Open(target)
		if errors.Is(err, os.ErrNotExist) {
			return nil, target, hint.NoFile(target)
		} else if err != nil {
			return nil, target, &capture.Error{Problem: err.Error()}
		}
		in, err := capture.Open(f)
		var file *capture.Error
		switch {
		case errors.As(err, &file): // not even the first byte is right: look at it all the same
			_, err = f.Seek(0, io.SeekStart)
			return f, target, err
		case err != nil:
			f.Close()
			return nil, target, err
		case in.Table != nil:
			f.Close()
			return nil, target, hint.With(fmt.Errorf("%s is a table", target),
				"the protocol's rules are about a board's bytes: evendraw capture makes a capture of them")
		}
		return &source{in.Bytes, f.Close}, target, nil
	}
	path, opt := target, settings.Port{}.Options(w)
	if path == "" {
		ports, err := opt.List()
		switch {
		case err != nil:
			return nil, "", err
		case len(ports) != 1:
			return nil, "", hint.With(&board.Error{Kind: board.NoBoard},
				"name the port, or a capture: evendraw board list shows the ports")
		}
		path = ports[0].Path
	}
	if baud == 0 {
		baud = strictBaud
	}
	link, err := board.Listen(ctx, path, baud, opt)
	if err != nil {
		return nil, path, err
	}
	fmt.Fprintf(errOut, "listening to %s at %d bit/s for %d s\n", path, baud, strictSeconds)
	stop := context.AfterFunc(ctx, func() { link.Close() })
	timer := time.AfterFunc(strictSeconds*time.Second, func() { stop(); link.Close() })
	return &source{link, func() error { timer.Stop(); return link.Close() }}, path, nil
}

// source is bytes, and how they are closed.
type source struct {
	io.Reader
	close func() error
}

// Close closes it.
func (s *source) Close() error { return s.close() }
