package frame

// Known is what a decoder knows at one place of the stream.
type Known struct {
	Stats Stats
	Board *Announcement // the latest, nil before the first
}

// Batch is what a Decoder made of a chunk, to be looked at elsewhere or later. Its buffers are used again.
type Batch struct {
	// Frames are those of the chunk, in order.
	Frames []Frame
	// End is what was known at the chunk's end, with Failure and Standstill of the decoder there.
	End        Known
	Failure    error
	Standstill *Standstill

	changes []change
}

// change is where in a batch something else than the number of frames has changed.
type change struct {
	before int // the frame that it came before
	known  Known
}

// Take decodes what is left of the chunk into b.
func (d *Decoder) Take(b *Batch) {
	b.Frames, b.changes = b.Frames[:0], b.changes[:0]
	d.TakeMore(b)
}

// TakeMore is Take that leaves in b what it holds.
func (d *Decoder) TakeMore(b *Batch) {
	var now Known
	for f, ok := d.Next(); ok; f, ok = d.Next() {
		now.Stats.Frames++
		if now.Stats != d.stats || now.Board != d.board {
			now = Known{d.stats, d.board}
			b.changes = append(b.changes, change{len(b.Frames), now})
		}
		b.Frames = append(b.Frames, *f)
	}
	b.End, b.Failure, b.Standstill = Known{d.stats, d.board}, d.failure, d.Standstill()
}

// Each calls take for each frame, with what was known as of it, until that returns false.
func (b *Batch) Each(take func(f *Frame, k *Known) bool) {
	var now Known
	for i, changes := 0, b.changes; i < len(b.Frames); i++ {
		now.Stats.Frames++
		if len(changes) > 0 && changes[0].before == i {
			now, changes = changes[0].known, changes[1:]
		}
		if !take(&b.Frames[i], &now) {
			return
		}
	}
}
