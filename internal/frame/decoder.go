package frame

import "bytes"

// Stats counts what came over a line since the decoder was made.
type Stats struct {
	Bytes         uint64 // all bytes
	Frames        uint64 // data frames given out
	Lost          uint64 // frames that never arrived, by the counter
	Damaged       uint64 // blocks that were no intact frame
	Duplicates    uint64 // frames that had come before
	Gaps          uint64 // times that Lost went up
	Overflows     uint64 // instants the board itself missed
	Restarts      uint64 // times the board restarted
	Announcements uint64 // announcements read
	Unannounced   uint64 // data frames before the first announcement
	Unreadable    uint64 // data frames of a version or layout not known here
}

// Decoder turns the bytes of a board into frames. Feed it a chunk, then call
// Next until it has no more. How the stream is cut into chunks does not matter.
// The zero value is ready to use; it does not allocate on data frames.
type Decoder struct {
	in           []byte // rest of the chunk being read
	block        [maxEncoded]byte
	n            int  // bytes in block, of one that goes on in the next chunk
	long         bool // that one is longer than any frame
	joined       bool // a delimiter was seen
	board        *Announcement
	boardPayload []byte // payload of the announcement that board is from
	failure      error  // why board's data can't be read
	seed         uint16
	period       float64 // between sampling instants, µs
	order        sequence
	lines        printer // of a board that can only print
	stats        Stats
}

// Feed hands the decoder the next chunk. It must not be changed until Next has
// returned false; an unread rest of the chunk before is dropped.
func (d *Decoder) Feed(chunk []byte) {
	d.in = chunk
	d.stats.Bytes += uint64(len(chunk))
}

// sniff looks for a board that prints, in bytes before any announcement. It returns how many
// bytes it took until it knew the board, 0 if it does not know one.
func (d *Decoder) sniff(piece []byte) int {
	for i, b := range piece {
		if !d.lines.push(b) {
			continue
		}
		d.lines.sniff(d.lines.take())
		if d.lines.board != nil {
			d.board, d.failure = d.lines.board, d.lines.board.Readable()
			return i + 1
		}
	}
	return 0
}

// nextLine returns the frame of the next printed line.
func (d *Decoder) nextLine() (*Frame, bool) {
	for i, b := range d.in {
		if !d.lines.push(b) {
			continue
		}
		line, sound := d.lines.take()
		if d.failure != nil {
			d.stats.Unreadable++
			continue
		}
		if f := d.lines.next(line, sound, &d.stats); f != nil {
			d.in = d.in[i+1:]
			d.order.ready = append(d.order.ready, *f)
			return d.take(), true
		}
	}
	d.in = nil
	return nil, false
}

// take gives out the next frame in order, and counts it; nil if there is none. It is valid until the sequence's clear.
func (d *Decoder) take() *Frame {
	s := &d.order
	if s.taken == len(s.ready) {
		return nil
	}
	f := &s.ready[s.taken]
	s.taken++
	d.stats.Frames++
	d.stats.Overflows += uint64(f.Missed)
	if f.Lost > 0 {
		d.stats.Lost += uint64(f.Lost)
		d.stats.Gaps++
	}
	return f
}

// Next returns the next frame, valid until Next is called again; ok is false when
// the chunk is used up.
func (d *Decoder) Next() (f *Frame, ok bool) {
	d.order.clear()
	return d.next()
}

// next is Next that leaves the frames before in their places.
func (d *Decoder) next() (f *Frame, ok bool) {
	if d.lines.board != nil {
		return d.nextLine()
	}
	for {
		if f = d.take(); f != nil {
			return f, true
		}
		block, ended := d.nextBlock()
		if !ended {
			if d.lines.board != nil {
				return d.nextLine()
			}
			return nil, false
		}
		d.endBlock(block)
	}
}

// Finish ends the stream: no more bytes come. Next then also gives a frame that was
// held back for an earlier one.
func (d *Decoder) Finish() {
	d.in = nil
	d.order.release()
}

// Stats returns the counters as of the last frame given out.
func (d *Decoder) Stats() Stats { return d.stats }

// Board returns the latest announcement, or nil before the first. It must not
// be changed.
func (d *Decoder) Board() *Announcement { return d.board }

// Failure returns why the announced board's data frames can't be read: another
// protocol version or an unknown layout. It is nil for a readable board.
func (d *Decoder) Failure() error { return d.failure }

// nextBlock returns what came up to the next delimiter, valid until the next call.
// ended is false when the chunk ends before that; what came is then kept.
func (d *Decoder) nextBlock() (block []byte, ended bool) {
	if len(d.in) > 0 && d.in[0] == 0 && d.n == 0 && d.joined {
		d.in = d.in[1:] // the second of two delimiters
	}
	piece, rest := d.in, []byte(nil)
	end := bytes.IndexByte(d.in, 0)
	if end >= 0 {
		piece, rest = d.in[:end], d.in[end+1:]
	}
	if d.board == nil {
		if n := d.sniff(piece); n > 0 {
			d.in = d.in[n:]
			return nil, false
		}
	}
	d.in = rest
	if d.n == 0 && end >= 0 {
		return piece, true
	}
	n := copy(d.block[d.n:], piece)
	d.n += n
	d.long = d.long || n < len(piece)
	return d.block[:d.n], end >= 0
}

// endBlock reads the block that a delimiter has just ended. A block before the first
// delimiter has lost its beginning, and is not counted.
func (d *Decoder) endBlock(block []byte) {
	long, joined := d.long || len(block) > maxEncoded, d.joined
	d.n, d.long, d.joined = 0, false, true
	if len(block) == 0 || !joined {
		return
	}
	if !long {
		if payload, ok := decodeCOBS(d.block[:], block); ok && d.payload(payload) {
			return
		}
	}
	d.stats.Damaged++
	d.order.standing.damaged++
}

// payload takes one decoded block and reports whether it was intact.
func (d *Decoder) payload(p []byte) bool {
	if len(p) == 0 {
		return false
	}
	switch p[0] {
	case typeAnnouncement:
		if len(d.boardPayload) > 0 && bytes.Equal(p, d.boardPayload) {
			d.announce(d.board) // the same again, as once a second
			return true
		}
		if !sealed(p, announcementSeed) {
			return false
		}
		a, err := parseAnnouncement(p[1 : len(p)-crcLen])
		if err != nil {
			return false
		}
		d.announce(a)
		d.boardPayload = append(d.boardPayload[:0], p...)
		return true
	case typeData:
		if d.board == nil {
			d.stats.Unannounced++
			return true
		}
		if d.failure != nil {
			d.stats.Unreadable++
			return true
		}
		f := d.order.place()
		return parseData(f, p, d.board, d.seed) && d.order.push(f, d.period, &d.stats)
	}
	return false
}

// announce takes an intact announcement.
func (d *Decoder) announce(a *Announcement) {
	d.stats.Announcements++
	d.order.standing.announcements++
	if b := d.board; b != nil {
		same := a.Serial == b.Serial && a.Layout == b.Layout
		if !same || a.Boot != b.Boot && !d.order.unannounced { // else its frames have shown the restart
			d.order.restart(&d.stats)
		}
	}
	d.order.unannounced = false
	d.board = a
	d.seed = Seed(a.Layout)
	d.period = 1e6 / float64(max(a.Rate, 1))
	d.failure = a.Readable()
}
