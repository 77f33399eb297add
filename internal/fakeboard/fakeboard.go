package fakeboard

import (
	"bytes"
	"io"

	"evendraw/internal/engine"
	"evendraw/internal/frame"
)

// Rate is the sampling instants a second of a fake board.
const Rate = 1000

// Announcement is what a fake board with n channels of pressure sensors says of itself.
func Announcement(serial string, n int) *frame.Announcement {
	a := &frame.Announcement{
		Protocol: frame.Version, Model: "test-board", Serial: serial, Boot: "0001", Program: "1.0.0",
		Layout: frame.Layout(n), Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: Rate,
	}
	for i := range n {
		a.Channels = append(a.Channels, frame.Channel{Role: frame.Pressure, Unit: "kPa", DelayUs: uint32(112 * i)})
	}
	return a
}

// Recording is a run of a board, in memory. Its methods return changed copies.
type Recording struct {
	About  frame.Announcement
	Frames []frame.Frame
}

// Steady returns frames 0 to n-1 of a board whose counts follow from the frame's counter alone.
func Steady(serial string, channels, n int) Recording {
	r := Recording{About: *Announcement(serial, channels)}
	for c := range uint32(n) {
		f := frame.Frame{Counter: c, Tick: c * (1e6 / Rate), N: channels}
		for i := range channels {
			f.Counts[i] = uint16((int(c)*(6*i+1) + 7*i) % 1000)
		}
		r.Frames = append(r.Frames, f)
	}
	return r
}

// FromEngine records the practice engine for so many seconds of its time. do,
// unless nil, is called about 40 times a second with the time that has passed.
func FromEngine(e *engine.Engine, seconds float64, do func(t float64)) Recording {
	var r Recording
	var dec frame.Decoder
	var buf [512]byte
	begin := e.Truth().TimeS
	for t := 0.0; t < seconds; t = e.Truth().TimeS - begin {
		if do != nil {
			do(t)
		}
		n, err := e.Read(buf[:])
		if err != nil {
			panic("fakeboard: the practice engine never fails: " + err.Error())
		}
		dec.Feed(buf[:n])
		for f, ok := dec.Next(); ok; f, ok = dec.Next() {
			r.Frames = append(r.Frames, *f)
		}
	}
	r.About = *dec.Board()
	return r
}

// Read decodes a stream, which must be of one run of a board.
func Read(src io.Reader) (Recording, error) {
	var r Recording
	in := frame.NewReader(src)
	for {
		f, err := in.Read()
		if err == io.EOF {
			r.About = *in.Board()
			return r, nil
		}
		if err != nil {
			return r, err
		}
		r.Frames = append(r.Frames, f)
	}
}

// Part returns frames from to to-1.
func (r Recording) Part(from, to int) Recording {
	r.Frames = r.Frames[from:to]
	return r
}

// StartingAt returns the run with its counter and tick shifted, so that they wrap where a test wants it.
func (r Recording) StartingAt(counter, tick uint32) Recording {
	return r.mapFrames(func(f *frame.Frame) {
		f.Counter += counter - r.Frames[0].Counter
		f.Tick += tick - r.Frames[0].Tick
	})
}

// Restarted returns the run as another start of the same board sends it.
func (r Recording) Restarted(boot string) Recording {
	r.About.Boot = boot
	first := r.Frames[0].Overflow
	r = r.StartingAt(0, 0)
	return r.mapFrames(func(f *frame.Frame) { f.Overflow -= first })
}

// Overflowing returns the run of a board that was too late for n instants, the first of them number at.
func (r Recording) Overflowing(at, n int) Recording {
	var kept []frame.Frame
	for i, f := range r.Frames {
		switch {
		case i < at:
		case i < at+n:
			continue
		default:
			f.Counter -= uint32(n)
			f.Overflow += uint16(n)
		}
		kept = append(kept, f)
	}
	r.Frames = kept
	return r
}

// mapFrames returns a copy whose frames are changed by change.
func (r Recording) mapFrames(change func(*frame.Frame)) Recording {
	frames := append([]frame.Frame(nil), r.Frames...)
	for i := range frames {
		change(&frames[i])
	}
	r.Frames = frames
	return r
}

// Blocks returns what the board sends, each frame and announcement with both its
// delimiters: the announcement first, and again each second.
func (r Recording) Blocks() [][]byte {
	says := frame.AppendAnnouncement(nil, &r.About)
	seed := frame.Seed(r.About.Layout)
	var blocks [][]byte
	due := uint32(0)
	for i := range r.Frames {
		f := &r.Frames[i]
		if instant := f.Counter - r.Frames[0].Counter + uint32(f.Overflow-r.Frames[0].Overflow); instant >= due {
			blocks = append(blocks, says)
			due += uint32(r.About.Rate)
		}
		blocks = append(blocks, frame.AppendData(nil, seed, f))
	}
	return blocks
}

// Bytes returns the blocks in one piece.
func (r Recording) Bytes() []byte { return bytes.Join(r.Blocks(), nil) }
