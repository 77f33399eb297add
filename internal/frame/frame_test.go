package frame

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"testing"
	"testing/iotest"

	"evendraw/internal/effort"
)

func testBoard(n int) *Announcement {
	a := &Announcement{Protocol: Version, Model: "test", Serial: "T1", Boot: "1", Program: "1.0.0", Layout: Layout(n),
		Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000}
	for i := range n {
		a.Channels = append(a.Channels, Channel{Pressure, "kPa", uint32(112 * i)})
	}
	return a
}

// testFrame returns frame i of a steady four-channel board.
func testFrame(i int) Frame {
	return Frame{Counter: uint32(i), Tick: uint32(i * 1000), N: 4,
		Counts: [MaxChannels]uint16{uint16(i % 1024), uint16(i * 7 % 1024), 0, 1023}}
}

// testStream returns an announcement and frames 0 to n-1.
func testStream(n int) []byte {
	a := testBoard(4)
	s := AppendAnnouncement(nil, a)
	for i := range n {
		f := testFrame(i)
		s = AppendData(s, Seed(a.Layout), &f)
	}
	return s
}

func readAll(src io.Reader) ([]Frame, Stats) {
	r := NewReader(src)
	var all []Frame
	for {
		f, err := r.Read()
		if err != nil {
			return all, r.Stats()
		}
		all = append(all, f)
	}
}

func TestAnySplitGivesTheSameFrames(t *testing.T) {
	t.Parallel()
	s := testStream(50)
	s = append(s[:len(s)-300], append([]byte{9, 9, 9}, s[len(s)-300:]...)...) // and some damage
	want, wantStats := readAll(bytes.NewReader(s))
	if len(want) < 48 {
		t.Fatalf("%d frames", len(want))
	}
	check := func(name string, src io.Reader) {
		t.Helper()
		got, stats := readAll(src)
		if !slices.Equal(got, want) || stats != wantStats {
			t.Fatalf("%s: %d frames %+v, want %d %+v", name, len(got), stats, len(want), wantStats)
		}
	}
	check("one byte", iotest.OneByteReader(bytes.NewReader(s)))
	check("half", iotest.HalfReader(bytes.NewReader(s)))
	check("data and error", iotest.DataErrReader(bytes.NewReader(s)))
	for size := 1; size <= 300; size++ {
		check(fmt.Sprint("pieces of ", size), &pieces{s, func() int { return size }})
	}
	rng := rand.New(rand.NewPCG(1, 2))
	random := effort.Of(1000, 10_000)
	for range random {
		check("random pieces", &pieces{s, func() int { return 1 + rng.IntN(60) }})
	}
	t.Logf("count: %d ways to cut a stream, the same frames each time", 300+random)
}

// pieces reads rest in pieces of the given sizes.
type pieces struct {
	rest []byte
	size func() int
}

func (p *pieces) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(b, p.rest[:min(p.size(), len(p.rest))])
	p.rest = p.rest[n:]
	return n, nil
}

func TestReaderPassesOnTheError(t *testing.T) {
	t.Parallel()
	cable := errors.New("cable pulled")
	r := NewReader(io.MultiReader(bytes.NewReader(testStream(3)), iotest.ErrReader(cable)))
	for i := range 3 {
		if f, err := r.Read(); err != nil || f != testFrame(i) {
			t.Fatalf("frame %d: %+v, %v", i, f, err)
		}
	}
	for range 2 {
		if _, err := r.Read(); err != cable {
			t.Fatalf("got %v, want the source's error, for ever", err)
		}
	}
}

// Noise between frames costs no frame and makes none.
func TestNoiseBetweenFrames(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 4))
	const trials = 10_000
	a := testBoard(4)
	s := AppendAnnouncement(nil, a)
	for i := range trials {
		f := testFrame(i)
		s = AppendData(s, Seed(a.Layout), &f)
		for range 1 + rng.IntN(512) {
			s = append(s, byte(rng.Uint32()))
		}
	}
	got, stats := readAll(bytes.NewReader(s))
	if len(got) != trials || stats.Lost != 0 || stats.Damaged == 0 {
		t.Fatalf("%d of %d frames, %+v", len(got), trials, stats)
	}
	for i, f := range got {
		if f != testFrame(i) {
			t.Fatalf("frame %d is %+v", i, f)
		}
	}
	t.Logf("count: %d bursts of noise between frames, 0 frames lost, 0 false", trials)
}

// Every flip of one or two bits of a frame is seen.
func TestBitFlips(t *testing.T) {
	t.Parallel()
	a := testBoard(4)
	head := AppendAnnouncement(nil, a)
	f0, f1 := testFrame(0), testFrame(1)
	head = AppendData(head, Seed(a.Layout), &f0)
	clean := AppendData(nil, Seed(a.Layout), &f1)
	bits := (len(clean) - 2) * 8
	flipped := 0
	for i := range bits {
		for j := i; j < bits; j++ {
			s := bytes.Clone(clean)
			s[1+i/8] ^= 1 << (i % 8)
			if j > i {
				s[1+j/8] ^= 1 << (j % 8)
			}
			var d Decoder
			d.Feed(head)
			for _, ok := d.Next(); ok; _, ok = d.Next() {
			}
			d.Feed(s)
			if f, ok := d.Next(); ok {
				t.Fatalf("bits %d and %d flipped: accepted %+v", i, j, *f)
			}
			flipped++
		}
	}
	t.Logf("count: %d flips of one or two bits, 0 accepted", flipped)
}

func TestLossCountIsExact(t *testing.T) {
	t.Parallel()
	a := testBoard(4)
	for _, burst := range []int{1, 2, 255, 256, 257, 1000, 70000} {
		t.Run(fmt.Sprint(burst), func(t *testing.T) {
			s := AppendAnnouncement(nil, a)
			for i := range 20 {
				f := testFrame(i)
				if i >= 10 {
					f = testFrame(i + burst)
				}
				s = AppendData(s, Seed(a.Layout), &f)
			}
			got, stats := readAll(bytes.NewReader(s))
			if len(got) != 20 || stats.Lost != uint64(burst) || stats.Gaps != 1 || got[10].Lost != uint32(burst) {
				t.Errorf("burst of %d: %d frames, %+v", burst, len(got), stats)
			}
		})
	}
}

func TestOtherLayoutIsNamedAndNotRead(t *testing.T) {
	t.Parallel()
	a := testBoard(4)
	a.Layout = "counter:u32 tick:u32 overflow:u16 heat:u16 count:u16*4"
	s := AppendAnnouncement(nil, a)
	f := testFrame(0)
	s = AppendData(s, Seed(a.Layout), &f)
	var d Decoder
	d.Feed(s)
	if _, ok := d.Next(); ok || d.Failure() == nil || d.Stats().Unreadable != 1 {
		t.Errorf("frame %v, failure %v, %+v", ok, d.Failure(), d.Stats())
	}
}

func FuzzDecoder(f *testing.F) {
	s := testStream(6)
	f.Add(s, uint8(7))
	f.Add(s[5:], uint8(1))
	f.Add([]byte{0, 0, 0}, uint8(1))
	f.Fuzz(func(t *testing.T, s []byte, cut uint8) {
		want, wantStats := readAll(bytes.NewReader(s))
		size := int(cut) + 1
		got, stats := readAll(&pieces{s, func() int { return size }})
		if fmt.Sprint(got) != fmt.Sprint(want) || stats != wantStats {
			t.Fatalf("pieces of %d: other frames", size)
		}
	})
}

// FuzzReencode checks that what is accepted re-encodes to the same bytes.
func FuzzReencode(f *testing.F) {
	for i := range 3 {
		g := testFrame(i)
		f.Add(AppendData(nil, Seed(Layout(4)), &g))
	}
	a := testBoard(4)
	f.Add(AppendAnnouncement(nil, a))
	head := AppendAnnouncement(nil, a)
	f.Fuzz(func(t *testing.T, s []byte) {
		var d Decoder
		d.Feed(head)
		d.Next()
		block := append(append([]byte{0}, bytes.ReplaceAll(s, []byte{0}, nil)...), 0)
		d.Feed(block)
		if g, ok := d.Next(); ok {
			if again := AppendData(nil, Seed(a.Layout), g); !bytes.Equal(again, block) {
				t.Fatalf("% X accepted, re-encodes to % X", block, again)
			}
		}
	})
}

func BenchmarkDecoder(b *testing.B) {
	const n = 1000
	s := testStream(n)
	b.ReportAllocs()
	b.SetBytes(int64(len(s)))
	for b.Loop() {
		var d Decoder
		d.Feed(s)
		for _, ok := d.Next(); ok; _, ok = d.Next() {
		}
		if d.Stats().Frames != n {
			b.Fatal(d.Stats())
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/frame")
}

// A payload that is too long or too short for its layout is refused, though its CRC is right.
func TestLengthIsLookedAt(t *testing.T) {
	seed := Seed(testBoard(4).Layout)
	for n := range MaxChannels + 1 {
		f := testFrame(2)
		f.N = n
		got, stats := readAll(bytes.NewReader(AppendData(testStream(2), seed, &f)))
		if want := map[bool]int{true: 3, false: 2}[n == 4]; len(got) != want || stats.Damaged != uint64(3-want) {
			t.Errorf("%d channels: %d frames, want %d; %+v", n, len(got), want, stats)
		}
	}
}
