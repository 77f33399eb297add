package job

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// strictSeconds is how long a port is listened to: ten announcements.
const strictSeconds = 10

// strictBaud is the rate where none is given: the usual one of the protocol.
const strictBaud = 500_000

// CheckStrictly holds the bytes of a port or a file against the protocol.
func CheckStrictly(ctx context.Context, target string, baud int, asJSON bool, std Streams) error {
	src, name, err := strictSource(ctx, target, baud, std.Err)
	if err != nil {
		return err
	}
	defer src.Close()
	s := strict{name: name, lines: frame.LineAudit{File: IsFile(target)}}
	_, err = io.Copy(&s, src)
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	s.finish()
	if asJSON {
		err = s.tellJSON(std.Out)
	} else {
		s.tell(std.Out)
	}
	if err == nil && len(s.found) > 0 {
		err = &Hinted{fmt.Errorf("%s: %s", plain.Text(name), brokenRules(len(s.found))),
			"firmware-protocol/PROTOCOL.md has each rule, and one frame worked byte by byte"}
	}
	return err
}

func brokenRules(n int) string {
	if n == 1 {
		return "a rule of the protocol is broken"
	}
	return fmt.Sprintf("%d rules of the protocol are broken", n)
}

// strict holds bytes against both forms of the protocol, as which it is shows only in
// the end.
type strict struct {
	name    string
	bytes   uint64
	zeros   bool // a delimiter of frames was seen
	frames  frame.Audit
	lines   frame.LineAudit
	printed bool
	found   []frame.Finding
}

// Write takes the next bytes.
func (s *strict) Write(p []byte) (int, error) {
	s.bytes += uint64(len(p))
	s.zeros = s.zeros || bytes.IndexByte(p, 0) >= 0
	s.frames.Push(p)
	s.lines.Push(p)
	return len(p), nil
}

func (s *strict) finish() {
	s.frames.Finish()
	s.lines.Finish()
	s.printed = s.frames.Announcements() == 0 && (s.lines.Board() != nil || !s.zeros && s.lines.Lines() > 0)
	s.found = s.frames.Findings()
	if s.printed {
		s.found = s.lines.Findings()
	}
}

// strictSource opens a file, or a port for strictSeconds.
func strictSource(ctx context.Context, target string, baud int, errOut io.Writer) (io.ReadCloser, string, error) {
	if IsFile(target) {
		f, err := os.Open(target)
		if err != nil {
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
			return nil, target, &Hinted{fmt.Errorf("%s is a table", target), "the protocol's rules are about a board's bytes: evendraw record makes a capture of them"}
		}
		return struct {
			io.Reader
			io.Closer
		}{in.Bytes, f}, target, nil
	}
	path := target
	if path == "" {
		ports, err := board.List()
		switch {
		case err != nil:
			return nil, "", err
		case len(ports) != 1:
			return nil, "", &Hinted{&board.Error{Kind: board.NoBoard}, "name the port, or a capture: evendraw board list shows the ports"}
		}
		path = ports[0].Path
	}
	if baud == 0 {
		baud = strictBaud
	}
	link, err := board.Listen(ctx, path, baud)
	if err != nil {
		return nil, path, err
	}
	fmt.Fprintf(errOut, "listening to %s at %d bit/s for %d s\n", path, baud, strictSeconds)
	stop := context.AfterFunc(ctx, func() { link.Close() })
	timer := time.AfterFunc(strictSeconds*time.Second, func() { stop(); link.Close() })
	return struct {
		io.Reader
		io.Closer
	}{link, closerFunc(func() error { timer.Stop(); return link.Close() })}, path, nil
}

type closerFunc func() error

func (f closerFunc) Close() error { return f() }

func (s *strict) tell(out io.Writer) {
	if s.printed {
		fmt.Fprintf(out, "%s: %d bytes; printed lines of numbers: %d\n", plain.Text(s.name), s.bytes, s.lines.Lines())
		if b := s.lines.Board(); b != nil {
			fmt.Fprintln(out, "They are not frames. "+view.PrintedText(b.Printed))
		}
	} else {
		fmt.Fprintf(out, "%s: %d bytes; announcements: %d, frames: %d", plain.Text(s.name), s.bytes, s.frames.Announcements(), s.frames.Frames())
		if n := s.frames.Skipped(); n > 0 {
			fmt.Fprintf(out, ", of unknown types and skipped: %d", n)
		}
		fmt.Fprintln(out)
	}
	if len(s.found) == 0 {
		fmt.Fprintln(out, "Every rule is kept.")
	}
	for i := range s.found {
		f := &s.found[i]
		times := ""
		if f.Times > 1 {
			times = fmt.Sprintf(", %d times in all", f.Times)
		}
		fmt.Fprintf(out, "\n%s: byte %d%s\n  %s\n", f.Rule, f.At, times, plain.Text(f.Problem))
		switch {
		case len(f.Block) == 0:
		case s.printed && f.Text():
			fmt.Fprintf(out, "  %s\n  %s^\n", f.Block, strings.Repeat(" ", f.Mark))
		default:
			fmt.Fprintf(out, "  %s\n", markedBytes(f.Block, f.Mark))
		}
	}
}

// markedBytes prints a block with one byte in brackets; long ones around it.
func markedBytes(block []byte, mark int) string {
	const around = 28
	from, to := max(0, mark-around), min(len(block), mark+around)
	s := ""
	if from > 0 {
		s = "… "
	}
	for i := from; i < to; i++ {
		if i == mark {
			s += fmt.Sprintf("[%02X] ", block[i])
		} else {
			s += fmt.Sprintf("%02X ", block[i])
		}
	}
	if to < len(block) {
		s += "…"
	}
	return s
}

func (s *strict) tellJSON(out io.Writer) error {
	type finding struct {
		Rule    frame.Rule `json:"rule"`
		Byte    uint64     `json:"byte"`
		Times   int        `json:"times"`
		Problem string     `json:"problem"`
		Block   string     `json:"block"`
		Mark    int        `json:"mark"`
	}
	list := []finding{}
	for _, f := range s.found {
		list = append(list, finding{f.Rule, f.At, f.Times, f.Problem, fmt.Sprintf("%X", f.Block), f.Mark})
	}
	return json.NewEncoder(out).Encode(map[string]any{"source": s.name, "bytes": s.bytes, "announcements": s.frames.Announcements(), "frames": s.frames.Frames(),
		"skipped": s.frames.Skipped(), "printed": s.printed, "lines": s.lines.Lines(), "findings": list})
}
