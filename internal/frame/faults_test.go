package frame_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// drain returns how many frames the decoder has ready.
func drain(d *frame.Decoder) (n int) {
	for _, ok := d.Next(); ok; _, ok = d.Next() {
		n++
	}
	return n
}

// joined returns a decoder that knows the board of r and has read its first
// frames.
func joined(r fakeboard.Recording) *frame.Decoder {
	d := &frame.Decoder{}
	d.Feed(r.Bytes())
	drain(d)
	return d
}

// Row 1, for long: noise alone hardly ever makes a frame. A block of the right
// length with a right CRC must also fit the frame before.
func TestNoiseAlone(t *testing.T) {
	t.Parallel()
	total := effort.Of(4_000_000, 1_000_000_000)
	d := joined(fakeboard.Steady("A1", 4, 10))
	random := rand.NewChaCha8([32]byte{1})
	buf := make([]byte, 1<<16)
	accepted := 0
	for range total / len(buf) {
		random.Read(buf)
		d.Feed(buf)
		accepted += drain(d)
	}
	if accepted > 1 || d.Stats().Damaged == 0 {
		t.Errorf("%d frames in %d bytes of noise, at most 1 may be: %+v", accepted, total, d.Stats())
	}
	t.Logf("count: %d bytes of noise alone, %d frames accepted", total, accepted)
}

// crcRight reports whether a block, delimiters and all, is a data frame by COBS,
// length and CRC alone.
func crcRight(block []byte, seed uint16, length int) bool {
	var payload []byte
	for in := block[1 : len(block)-1]; len(in) > 0; {
		code := int(in[0])
		if code == 0 || code > len(in) || bytes.IndexByte(in[1:code], 0) >= 0 {
			return false
		}
		payload = append(payload, in[1:code]...)
		if in = in[code:]; len(in) > 0 && code < 0xFF {
			payload = append(payload, 0)
		}
	}
	if len(payload) != length || payload[0] != 'D' {
		return false
	}
	end := len(payload) - 2
	return frame.CRC(seed, payload[:end]) == uint16(payload[end])|uint16(payload[end+1])<<8
}

// Row 3: random flips get past the CRC as seldom as they should, and past the
// decoder never.
func TestRandomFlips(t *testing.T) {
	t.Parallel()
	const board, most = 4, 16
	trials := effort.Of(200_000, 1_000_000)
	r := fakeboard.Steady("A1", board, 1002)
	d := joined(r.Part(0, 1000))
	seed := frame.Seed(r.About.Layout)
	clean := r.Part(1000, 1001).Blocks()[1]
	if !crcRight(clean, seed, 13+2*board) {
		t.Fatal("the test's own check refuses a good frame")
	}
	random := rand.New(rand.NewPCG(3, 3))
	byCRC, accepted := 0, 0
	for range trials {
		bad := fakeboard.Flipped(random, clean, 1+random.IntN(most))
		if crcRight(bad, seed, 13+2*board) {
			byCRC++
		}
		d.Feed(bad)
		accepted += drain(d)
	}
	// By chance 15 of a million do.
	if mayPass := 30 * trials / 1_000_000; byCRC > mayPass || accepted > 0 {
		t.Errorf("%d flips: %d get past the CRC (at most %d may), %d are accepted", trials, byCRC, mayPass, accepted)
	}
	d.Feed(clean)
	if drain(d) != 1 {
		t.Error("the good frame after them is refused")
	}
	t.Logf("count: %d frames with up to %d bits flipped, %d past the CRC, %d accepted", trials, most, byCRC, accepted)
}

// Row 9: a line read at the wrong rate gives no frame, even to a decoder that
// knows the board; at the right rate, or 1 % off, it gives all.
func TestWrongRate(t *testing.T) {
	t.Parallel()
	const n = 400
	r := fakeboard.Steady("A1", 4, n)
	known := r.Part(0, 1).Bytes()
	pairs, read := 0, 0
	for _, from := range fakeboard.Rates {
		for _, to := range fakeboard.Rates {
			for _, strict := range []bool{true, false} {
				t.Run(fmt.Sprintf("%d as %d, strict %v", from, to, strict), func(t *testing.T) {
					bytes := fakeboard.Resample(r.Blocks(), from, to, strict)
					fresh, knowing := &frame.Decoder{}, &frame.Decoder{}
					knowing.Feed(known)
					drain(knowing)
					fresh.Feed(bytes)
					knowing.Feed(bytes)
					a, b := drain(fresh), drain(knowing)
					if from == to && (a != n || b < n-1) {
						t.Errorf("%d as %d: %d and %d frames of %d", from, to, a, b, n)
					}
					if from != to && (a != 0 || b != 0) {
						t.Errorf("%d as %d: %d and %d frames, none is right", from, to, a, b)
					}
					if from != to && strict {
						pairs, read = pairs+1, read+len(bytes)
					}
				})
			}
		}
		fresh := &frame.Decoder{}
		fresh.Feed(fakeboard.Resample(r.Blocks(), from, from*101/100, true))
		if got := drain(fresh); got != n {
			t.Errorf("%d, 1 %% off: %d frames of %d", from, got, n)
		}
	}
	t.Logf("count: %d pairs of different rates, %d bytes read wrongly, 0 frames accepted", pairs, read)
}
