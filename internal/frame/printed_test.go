package frame

import (
	"fmt"
	"strings"
	"testing"
)

// decodeAll returns all frames of a stream cut into pieces of n bytes.
func decodeAll(in string, n int) (*Decoder, []Frame) {
	var d Decoder
	var all []Frame
	for len(in) > 0 {
		k := min(n, len(in))
		d.Feed([]byte(in[:k]))
		in = in[k:]
		for f, ok := d.Next(); ok; f, ok = d.Next() {
			all = append(all, *f)
		}
	}
	d.Finish()
	return &d, all
}

// printedLines prints instants from to to of a board of four channels.
func printedLines(from, to int, clock bool) string {
	var b strings.Builder
	for i := from; i < to; i++ {
		if clock {
			fmt.Fprintf(&b, "%d,", uint32(4294000000+i*2000+i%3*100))
		}
		fmt.Fprintf(&b, "%d,%d,%d,%d\r\n", 500+i%40, 400, 1023-i%7, i*37%1000)
	}
	return b.String()
}

func TestPrintedCounts(t *testing.T) {
	t.Parallel()
	in := "boot v2 ready\r\n# rate 500\r\n# serial SHED-1\n" + printedLines(0, 100, false) + "47,12,\xff3,9\r\n" +
		"1,2,3\r\n" + printedLines(102, 200, false)
	for _, cut := range []int{1, 7, 4096} {
		t.Run(fmt.Sprint("pieces of ", cut), func(t *testing.T) {
			d, all := decodeAll(in, cut)
			a, s := d.Board(), d.Stats()
			if a == nil || a.Printed != NoClock || a.Rate != 500 || a.Serial != "SHED-1" || len(a.Channels) != 4 ||
				a.Bits != 10 {
				t.Fatalf("cut %d: board %+v", cut, a)
			}
			if len(all) != 200-2-firstLines || s.Damaged != 2 || s.Lost != 2 || s.Gaps != 1 {
				t.Fatalf("cut %d: %d frames, %+v", cut, len(all), s)
			}
			for i := range all {
				instant := i + firstLines
				if instant >= 100 {
					instant += 2
				}
				if want := uint32(instant-firstLines) * 2000; all[i].Tick != want ||
					int(all[i].Counts[0]) != 500+instant%40 {
					t.Fatalf("frame %d: %+v, wanted tick %d", i, all[i], want)
				}
			}
		})
	}
}

func TestPrintedWithClock(t *testing.T) {
	t.Parallel()
	for _, head := range []string{"", "t_us,c0,c1,c2,c3\n"} {
		t.Run(fmt.Sprintf("head %q", head), func(t *testing.T) {
			in := head + printedLines(0, 300, true) + printedLines(310, 700, true) // across the clock's wrap
			d, all := decodeAll(in, 50)
			a, s := d.Board(), d.Stats()
			if a == nil || a.Printed != WithClock || a.Rate < 480 || a.Rate > 520 || len(a.Channels) != 4 {
				t.Fatalf("board %+v", a)
			}
			if len(all) != 690-firstLines || s.Lost != 10 || s.Gaps != 1 || s.Damaged != 0 || s.Restarts != 0 {
				t.Errorf("%d frames, %+v", len(all), s)
			}
			if f := all[0]; f.Tick != uint32(4294000000+firstLines*2000+firstLines%3*100) ||
				f.Counts[0] != uint16(500+firstLines%40) {
				t.Errorf("first frame %+v", f)
			}
		})
	}
}

// A stream that is joined within a row has a clock all the same, though that row has lost its first digits.
func TestPrintedJoinedWithinARow(t *testing.T) {
	t.Parallel()
	in := printedLines(20, 200, true)
	for cut := range 60 {
		d, all := decodeAll(in[cut:], 64)
		if a := d.Board(); a == nil || a.Printed != WithClock || len(a.Channels) != 4 || len(all) < 110 {
			t.Errorf("joined after %d bytes: %d frames, %+v", cut, len(all), a)
		}
	}
}

func TestPrintedNeedsItsRate(t *testing.T) {
	t.Parallel()
	d, all := decodeAll(printedLines(0, 200, false), 64)
	if d.Failure() == nil || !strings.Contains(d.Failure().Error(), "# rate 500") || len(all) != 0 {
		t.Errorf("%d frames, %v", len(all), d.Failure())
	}
}

// TestPrintedWider checks that a converter of more bits is seen from the first
// counts, or taken from a remark.
func TestPrintedWider(t *testing.T) {
	t.Parallel()
	d, _ := decodeAll("# rate 100\n"+strings.Repeat("2047,3000\n", 80), 64)
	if d.Board() == nil || d.Board().Bits != 12 || len(d.Board().Channels) != 2 {
		t.Errorf("board %+v", d.Board())
	}
	d, all := decodeAll("# rate 100\n# bits 14\n# reference_mv 3300\n"+strings.Repeat("2047,3000\n", 80)+"2047,16384\n",
		64)
	if d.Board() == nil || d.Board().Bits != 14 || d.Board().ReferenceMV != 3300 || d.Board().Ratiometric ||
		d.Stats().Damaged != 1 {
		t.Errorf("board %+v, %d frames, %+v", d.Board(), len(all), d.Stats())
	}
}

func TestPrintedRestart(t *testing.T) {
	t.Parallel()
	in := printedLines(0, 200, true) + "hello again\n" + printedLines(0, 100, true)
	d, all := decodeAll(in, 33)
	if s := d.Stats(); s.Restarts != 1 || s.Damaged != 1 || all[len(all)-1].Segment != 1 || s.Lost != 0 {
		t.Errorf("%d frames, %+v", len(all), s)
	}
}

// TestPrintedIsNotSeenInFrames checks that no board's frames, and no noise, are
// taken for lines.
func TestPrintedIsNotSeenInFrames(t *testing.T) {
	t.Parallel()
	for _, v := range readVectors(t) {
		if d, _ := decodeAll(string(v.body), 5); d.Board() != nil && d.Board().Printed != NotPrinted {
			t.Errorf("%s: %+v", v.name, d.Board())
		}
	}
	d, all := decodeAll(printedLines(0, 60, true)+string(testStream(200)), 99)
	if d.Board() == nil || d.Board().Printed != NotPrinted || len(all) != 200 {
		t.Errorf("a board's frames after printed junk: %d, %+v", len(all), d.Board())
	}
}

// It is not run beside other tests, whose allocations would count.
func TestPrintedAllocatesNothing(t *testing.T) {
	var d Decoder
	d.Feed([]byte("# rate 500\n" + printedLines(0, 70, false)))
	for _, ok := d.Next(); ok; _, ok = d.Next() {
	}
	more := []byte(printedLines(70, 170, false))
	if n := testing.AllocsPerRun(20, func() {
		d.Feed(more)
		for _, ok := d.Next(); ok; _, ok = d.Next() {
		}
	}); n != 0 {
		t.Errorf("%v allocations for 100 lines", n)
	}
}
