package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/view"
)

// strictSeconds is how long a port is listened to: ten announcements.
const strictSeconds = 10

// strictBaud is the rate where none is given: the usual one of the protocol.
const strictBaud = 500_000

// runStrict holds the bytes of a port or a file against the protocol.
func runStrict(ctx context.Context, target string, baud int, asJSON bool, out, errOut io.Writer) error {
	src, name, err := strictSource(ctx, target, baud, errOut)
	if err != nil {
		return err
	}
	defer src.Close()
	var audit frame.Audit
	var dec frame.Decoder
	n, err := io.Copy(writerFunc(func(p []byte) {
		audit.Push(p)
		dec.Feed(p)
		for _, ok := dec.Next(); ok; _, ok = dec.Next() {
		}
	}), src)
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	audit.Finish()
	printed := frame.NotPrinted
	if a := dec.Board(); a != nil {
		printed = a.Printed
	}
	if asJSON {
		err = tellStrictJSON(out, name, uint64(n), &audit, printed)
	} else {
		tellStrict(out, name, uint64(n), &audit, printed)
	}
	if err == nil && len(audit.Findings()) > 0 && printed == frame.NotPrinted {
		err = &hinted{fmt.Errorf("%s: %d rules of the protocol are broken", printable(name), len(audit.Findings())),
			"firmware-protocol/PROTOCOL.md has each rule, and one frame worked byte by byte"}
	}
	return err
}

type writerFunc func(p []byte)

func (f writerFunc) Write(p []byte) (int, error) {
	f(p)
	return len(p), nil
}

// strictSource opens a file, or a port for strictSeconds.
func strictSource(ctx context.Context, target string, baud int, errOut io.Writer) (io.ReadCloser, string, error) {
	if info, err := os.Stat(target); err == nil && info.Mode().IsRegular() {
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
			return nil, target, &hinted{fmt.Errorf("%s is a table", target), "the protocol's rules are about a board's bytes: evendraw record makes a capture of them"}
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
			return nil, "", &hinted{&board.Error{Kind: board.NoBoard}, "name the port, or a capture: evendraw board list shows the ports"}
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

func tellStrict(out io.Writer, name string, n uint64, a *frame.Audit, printed frame.Printed) {
	fmt.Fprintf(out, "%s: %d bytes; announcements: %d, frames: %d", printable(name), n, a.Announcements(), a.Frames())
	if a.Skipped() > 0 {
		fmt.Fprintf(out, ", of unknown types and skipped: %d", a.Skipped())
	}
	fmt.Fprintln(out)
	switch {
	case printed != frame.NotPrinted:
		fmt.Fprintln(out, "These are printed lines, not frames. "+view.PrintedText(string(printed)))
		return
	case len(a.Findings()) == 0:
		fmt.Fprintln(out, "Every rule is kept.")
		return
	}
	for _, f := range a.Findings() {
		times := ""
		if f.Times > 1 {
			times = fmt.Sprintf(", %d times in all", f.Times)
		}
		fmt.Fprintf(out, "\n%s: byte %d%s\n  %s\n", f.Rule, f.At, times, printable(f.Problem))
		if len(f.Block) > 0 {
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

func tellStrictJSON(out io.Writer, name string, n uint64, a *frame.Audit, printed frame.Printed) error {
	type finding struct {
		Rule    frame.Rule `json:"rule"`
		Byte    uint64     `json:"byte"`
		Times   int        `json:"times"`
		Problem string     `json:"problem"`
		Block   string     `json:"block"`
		Mark    int        `json:"mark"`
	}
	list := []finding{}
	if printed == frame.NotPrinted {
		for _, f := range a.Findings() {
			list = append(list, finding{f.Rule, f.At, f.Times, f.Problem, fmt.Sprintf("%X", f.Block), f.Mark})
		}
	}
	return json.NewEncoder(out).Encode(map[string]any{"source": name, "bytes": n, "announcements": a.Announcements(), "frames": a.Frames(),
		"skipped": a.Skipped(), "printed": printed != frame.NotPrinted, "findings": list})
}
