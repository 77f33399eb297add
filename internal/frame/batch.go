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
	var now Known
	b.changes = b.changes[:0]
	d.order.clear()
	d.order.ready = append(b.Frames[:0], d.order.ready...)
	for _, ok := d.next(); ok; _, ok = d.next() {
		if now.Board != d.board || now.Stats.differ(&d.stats) { // of the first frame always: there were bytes
			now = Known{d.stats, d.board}
			b.changes = append(b.changes, change{d.order.taken - 1, now})
		}
	}
	b.Frames, d.order.ready, d.order.taken = d.order.ready, nil, 0
	b.End, b.Failure, b.Standstill = Known{d.stats, d.board}, d.failure, d.Standstill()
}

// differ reports whether counters other than Frames differ. (Compared as a whole they cost ten times as much.)
func (s *Stats) differ(o *Stats) bool {
	return s.Bytes != o.Bytes || s.Lost != o.Lost || s.Damaged != o.Damaged || s.Duplicates != o.Duplicates ||
		s.Gaps != o.Gaps || s.Overflows != o.Overflows || s.Restarts != o.Restarts ||
		s.Announcements != o.Announcements || s.Unannounced != o.Unannounced || s.Unreadable != o.Unreadable
}

// Stretches calls take for stretches of frames, until that returns false. k is what was known as of the first of
// them; as of the others nothing else has changed but Stats.Frames.
func (b *Batch) Stretches(take func(frames []Frame, k *Known) bool) {
	for i, c := range b.changes {
		end := len(b.Frames)
		if i+1 < len(b.changes) {
			end = b.changes[i+1].before
		}
		if !take(b.Frames[c.before:end], &c.known) {
			return
		}
	}
}
