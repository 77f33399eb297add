package frame

import "io"

// Reader reads frames from a stream of a board's bytes.
type Reader struct {
	src  io.Reader
	dec  Decoder
	buf  [4096]byte
	err  error
	done bool
}

// NewReader returns a Reader over src.
func NewReader(src io.Reader) *Reader { return &Reader{src: src} }

// Read returns the next frame. Damage is counted, never an error; the error is
// the source's own, io.EOF at its end.
func (r *Reader) Read() (Frame, error) {
	for {
		if f, ok := r.dec.Next(); ok {
			return *f, nil
		}
		if r.done {
			return Frame{}, r.err
		}
		if r.err != nil {
			r.dec.Finish()
			r.done = true
			continue
		}
		var n int
		n, r.err = r.src.Read(r.buf[:])
		r.dec.Feed(r.buf[:n])
	}
}

// Stats returns the counters as of the last frame read.
func (r *Reader) Stats() Stats { return r.dec.Stats() }

// Standstill returns why no frames come, as Decoder.Standstill does. It may be called after Read.
func (r *Reader) Standstill() *Standstill { return r.dec.Standstill() }

// Board returns the latest announcement, or nil before the first.
func (r *Reader) Board() *Announcement { return r.dec.Board() }
