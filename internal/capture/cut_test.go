package capture

import (
	"bytes"
	"io"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// cutSize is the capture's of row 22 of the fault table.
const cutSize = 200_000

// Row 22: a capture cut at every length opens, gives all whole frames before the cut, and
// says how many bytes belong to none.
func TestCutAtEveryLength(t *testing.T) {
	t.Parallel()
	text, ends := longCapture(t)
	step := effort.Of(41, 1) // of a frame of 24 bytes every place is cut
	cuts, ignored, at := 0, int64(0), 0
	for cut := 0; cut <= len(text); cut += step {
		for at < len(ends) && ends[at].at <= cut {
			at++
		}
		frames, rest, err := readCut(text, ends, at, cut)
		want, last := 0, ends[0].at
		if at > 0 {
			want, last = ends[at-1].frames, ends[at-1].at
		}
		switch {
		case cut < ends[0].at: // the head itself is cut
			if err == nil {
				t.Fatalf("cut at %d: a head without its end was read", cut)
			}
		case err != nil || frames != want || rest != int64(max(cut-last-1, 0)): // a frame begins with a delimiter
			t.Fatalf("cut at %d: %d frames, %d bytes ignored, %v; want %d of %d bytes", cut, frames, rest, err, want,
				cut-last)
		}
		cuts++
		ignored += rest
	}
	t.Logf("count: %d cuts of a capture of %d bytes: every whole frame read, %d bytes named as ignored, 0 panics", cuts,
		len(text), ignored)
}

// place is where a frame ends, and how many data frames there are up to there.
type place struct{ at, frames int }

// longCapture makes a capture and returns where its head and its frames end. An
// announcement stands before every hundred frames.
func longCapture(t *testing.T) (text []byte, ends []place) {
	t.Helper()
	var b bytes.Buffer
	if err := WriteHead(&b, Head{{"board", "T1"}, {"sensors", "[]"}}); err != nil {
		t.Fatal(err)
	}
	ends = []place{{at: b.Len()}}
	about := frame.Announcement{Protocol: frame.Version, Model: "invented", Serial: "T1", Boot: "0001", Program: "1.0",
		Layout: frame.Layout(4), Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000}
	for range 4 {
		about.Channels = append(about.Channels, frame.Channel{Role: frame.Pressure, Unit: "kPa"})
	}
	announcement := frame.AppendAnnouncement(nil, &about)
	f := frame.Frame{N: 4}
	for n := 0; b.Len() < cutSize; n++ {
		if n%100 == 0 {
			b.Write(announcement)
			ends = append(ends, place{b.Len(), n})
		}
		f.Counter, f.Tick = uint32(n), uint32(1000*n)
		f.Counts[0], f.Counts[3] = uint16(n%1024), uint16(1023-n%1024)
		b.Write(frame.AppendData(nil, frame.Seed(about.Layout), &f))
		ends = append(ends, place{b.Len(), n + 1})
	}
	return b.Bytes(), ends
}

// readCut reads a capture cut at a length; at is the first place after the cut. To be quick it reads
// only the head, and then from an announcement some 200 frames before the cut: frames stand between
// delimiters, so that those before do not matter.
func readCut(text []byte, ends []place, at, cut int) (frames int, rest int64, err error) {
	from := ends[0]
	for i := at - 200; i > 0; i-- {
		if ends[i].frames%100 == 0 && ends[i-1].frames < ends[i].frames {
			from = ends[i]
			break
		}
	}
	short := text[:cut]
	if from.at > ends[0].at {
		short = append(bytes.Clone(text[:ends[0].at]), text[from.at:cut]...)
	}
	in, err := Open(bytes.NewReader(short))
	if err != nil {
		return 0, 0, err
	}
	r := frame.NewReader(in.Bytes)
	frames = from.frames
	for {
		if _, err := r.Read(); err == io.EOF {
			return frames, in.CutShort(), nil
		} else if err != nil {
			return frames, 0, err
		}
		frames++
	}
}
