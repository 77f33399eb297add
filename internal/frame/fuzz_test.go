package frame_test

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// decoded is all that a decoder says of a stream, cut into pieces of that size.
func decoded(s []byte, size int) (all []frame.Frame, stats frame.Stats, a *frame.Announcement) {
	r := frame.NewReader(&pieces{s, size})
	for {
		f, err := r.Read()
		if err != nil {
			return all, r.Stats(), r.Board()
		}
		all = append(all, f)
	}
}

// printedLines are lines of counts as boards print them.
func printedLines(head string, clock bool, n int) []byte {
	b := []byte(head)
	for i := range n {
		if clock {
			b = fmt.Appendf(b, "%d,", 1_000_000+2000*i)
		}
		b = fmt.Appendf(b, "%d,%d\r\n", 500+i%40, 400+i%7)
	}
	return b
}

// FuzzPrinted feeds lines to a decoder: the cuts don't matter, and what comes out
// is what a board could mean.
func FuzzPrinted(f *testing.F) {
	f.Add(printedLines("t_us,c0,c1\n", true, 70), uint8(7))
	f.Add(printedLines("# rate 500\n# bits 12\n", false, 70), uint8(1))
	f.Add(append(printedLines("# rate 500\n", false, 70), "t_us,c0\n1,2\nt_us,c0,c1,c2\n1,2,3,4\n"...), uint8(3))
	// names of fewer columns, too late
	f.Add(append(bytes.Repeat([]byte("# rate 500\n1,2,3,4\n"), 70), "t_us,c0\n1,2\n"...), uint8(3))
	f.Add(append(printedLines("", true, 70), "4294967295,1,2\n3,1,2\n,,,\n#\n"...), uint8(200))
	f.Fuzz(func(t *testing.T, s []byte, cut uint8) {
		whole, stats, a := decoded(s, len(s)+1)
		pieces, piecesStats, _ := decoded(s, int(cut)+1)
		if !slices.Equal(whole, pieces) || stats != piecesStats {
			t.Fatalf("in pieces of %d: %d frames %+v, whole: %d frames %+v", int(cut)+1, len(pieces), piecesStats,
				len(whole), stats)
		}
		if len(whole) > 0 {
			checkFrames(t, whole, stats, a)
		}
	})
}

// checkFrames checks that frames fit their board and the counters.
func checkFrames(t *testing.T, all []frame.Frame, stats frame.Stats, a *frame.Announcement) {
	t.Helper()
	lost, segment := uint64(0), 0
	for i := range all {
		f := &all[i]
		if f.N < 1 || f.N > frame.MaxChannels || f.Segment < segment {
			t.Fatalf("frame %d: %+v", i, *f)
		}
		for _, c := range f.Counts[:f.N] {
			if a.Printed != frame.NotPrinted && int(c)>>a.Bits != 0 {
				t.Fatalf("frame %d: count %d of a converter with %d bits", i, c, a.Bits)
			}
		}
		lost, segment = lost+uint64(f.Lost), f.Segment
	}
	if stats.Frames != uint64(len(all)) || stats.Lost != lost {
		t.Fatalf("%d frames and %d lost, counted %+v", len(all), lost, stats)
	}
}

// FuzzAudit holds anything against the protocol: it never fails, and a place it
// names is in the stream.
func FuzzAudit(f *testing.F) {
	good := fakeboard.Steady("A1", 4, 30)
	f.Add(good.Bytes())
	f.Add(append(good.Part(0, 9).Bytes(), good.Part(20, 30).Restarted("0002").Bytes()...))
	f.Add(fakeboard.Join(fakeboard.WithoutRun(good.Blocks(), 4, 3)))
	f.Add(printedLines("t_us,c0,c1\n", true, 20))
	f.Add(append(printedLines("", false, 20), strings.Repeat("\r", 200)+"\n"...)) // a line too long, of nothing
	f.Fuzz(func(t *testing.T, s []byte) {
		var a frame.Audit
		a.Push(s)
		a.Finish()
		l := frame.LineAudit{File: true}
		l.Push(s)
		l.Finish()
		for _, x := range append(a.Findings(), l.Findings()...) {
			if x.At > uint64(len(s)) || x.Times < 1 || x.Problem == "" || x.Mark < 0 || x.Mark > len(x.Block) {
				t.Fatalf("%+v in %d bytes", x, len(s))
			}
			if strings.ContainsFunc(x.Problem, func(r rune) bool { return r < 0x20 || r == 0x7f }) {
				t.Fatalf("control characters in %q", x.Problem)
			}
		}
	})
}

// FuzzJoinedStream gives a decoder that knows its board anything, and then good
// frames: it never fails, and is in step again with the second of them.
func FuzzJoinedStream(f *testing.F) {
	rec := fakeboard.Steady("A1", 4, 60)
	before, after := rec.Part(0, 20).Bytes(), rec.Part(40, 60)
	f.Add([]byte{})
	f.Add([]byte(fakeboard.BootText))
	f.Add(rec.Part(20, 40).Bytes())
	f.Add(rec.Part(0, 9).Restarted("0002").Bytes())
	f.Fuzz(func(t *testing.T, s []byte) {
		stream := bytes.Join([][]byte{before, s, after.Bytes()}, nil)
		all, stats, a := decoded(stream, 64)
		checkFrames(t, all, stats, a)
		last := all[len(all)-1]
		if a.Serial == "A1" && last.Counts != after.Frames[19].Counts {
			t.Fatalf("the last good frame is not the last read: %+v, %+v", last, stats)
		}
	})
}

// pieces reads rest in pieces of that size.
type pieces struct {
	rest []byte
	size int
}

// Read gives the next piece.
func (p *pieces) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(b, p.rest[:min(p.size, len(p.rest))])
	p.rest = p.rest[n:]
	return n, nil
}
