package tell

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"evendraw/internal/frame"
	"evendraw/internal/plain"
)

// Audit is what came of holding bytes against the protocol.
type Audit struct {
	Name    string // of the port or the file
	Bytes   uint64
	Frames  frame.Audit
	Lines   frame.LineAudit
	Printed bool // lines of numbers, no frames
	Found   []frame.Finding
}

// Text prints what was found.
func (s *Audit) Text(out io.Writer) {
	if s.Printed {
		fmt.Fprintf(out, "%s: %d bytes; printed lines of numbers: %d\n", plain.Text(s.Name), s.Bytes, s.Lines.Lines())
		if b := s.Lines.Board(); b != nil {
			fmt.Fprintln(out, "They are not frames. "+printedText(b.Printed))
		}
	} else {
		fmt.Fprintf(out, "%s: %d bytes; announcements: %d, frames: %d", plain.Text(s.Name), s.Bytes,
			s.Frames.Announcements(), s.Frames.Frames())
		if n := s.Frames.Skipped(); n > 0 {
			fmt.Fprintf(out, ", of unknown types and skipped: %d", n)
		}
		fmt.Fprintln(out)
	}
	if len(s.Found) == 0 {
		fmt.Fprintln(out, "Every rule is kept.")
	}
	for i := range s.Found {
		f := &s.Found[i]
		times := ""
		if f.Times > 1 {
			times = fmt.Sprintf(", %d times in all", f.Times)
		}
		fmt.Fprintf(out, "\n%s: byte %d%s\n  %s\n", f.Rule, f.At, times, plain.Text(f.Problem))
		switch {
		case len(f.Block) == 0:
		case s.Printed && f.Text():
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

// JSON prints it as JSON.
func (s *Audit) JSON(out io.Writer) error {
	list := []map[string]any{}
	for _, f := range s.Found {
		list = append(list, map[string]any{"rule": f.Rule, "byte": f.At, "times": f.Times, "problem": f.Problem,
			"block": fmt.Sprintf("%X", f.Block), "mark": f.Mark})
	}
	return json.NewEncoder(out).Encode(map[string]any{"source": s.Name, "bytes": s.Bytes,
		"announcements": s.Frames.Announcements(), "frames": s.Frames.Frames(),
		"skipped": s.Frames.Skipped(), "printed": s.Printed, "lines": s.Lines.Lines(), "findings": list})
}
