package frame

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// Rule is one demand of PROTOCOL.md that bytes can break.
type Rule string

// The rules, in the order of PROTOCOL.md.
const (
	RuleDelimiters   Rule = "delimiters"   // 00 before and after each frame
	RuleCOBS         Rule = "cobs"         // a block is COBS
	RuleLength       Rule = "length"       // a payload has the length of its kind
	RuleCRC          Rule = "crc"          // a payload has its CRC
	RuleAnnouncement Rule = "announcement" // the text is well formed
	RuleAnnounced    Rule = "announced"    // at start, and about once a second
	RuleCount        Rule = "count"        // below 2^bits
	RuleCounter      Rule = "counter"      // up by one with each frame
	RuleTick         Rule = "tick"         // a period of the rate for each instant
	RuleOverflow     Rule = "overflow"     // goes up only
	RuleRate         Rule = "rate"         // true within 2 %
	RuleBoot         Rule = "boot"         // differs from start to start
)

// Finding is a rule that was broken, and where it was first.
type Finding struct {
	Rule Rule
	// At is the offset in the stream, from 0, of the first byte that breaks it;
	// Times how often it was broken.
	At    uint64
	Times int
	// Problem says what is wrong and, where that is known, why.
	Problem string
	// Block is the block that At lies in, as it came, without delimiters; Mark is the
	// offset in Block that At points to. Empty where no block is at fault.
	Block []byte
	Mark  int
}

// maxAnnouncementGapUs is the longest time, in µs of tick, without an announcement.
// Chosen: twice "about once a second".
const maxAnnouncementGapUs = 2_000_000

// Audit holds a board's bytes against PROTOCOL.md, to help those who write a
// board's program. Unlike Decoder it forgives nothing, and says what is wrong.
// The zero value is ready to use; it starts with the first delimiter.
type Audit struct {
	at              uint64 // offset of the next byte
	block           []byte
	start           uint64 // of block
	zeros           int    // delimiters in a row before block
	joined          bool
	board           *Announcement
	seed            uint16
	last            *Frame
	first           *Frame // of this run, for the rate
	announcedTick   uint32 // tick of the first frame after the last announcement
	silenceReported bool   // a missing announcement was reported
	found           findings
	damaged         uint32 // damaged blocks since the last frame
	frames          int
	announcements   int
	skipped         int
}

// Push takes the next bytes.
func (a *Audit) Push(p []byte) {
	for _, b := range p {
		switch {
		case b != 0:
			if len(a.block) == 0 {
				a.start = a.at
			}
			if len(a.block) <= maxEncoded {
				a.block = append(a.block, b)
			}
		case len(a.block) > 0:
			a.endBlock()
			a.block, a.zeros, a.joined = a.block[:0], 1, true
		default:
			a.zeros++
			a.joined = true
		}
		a.at++
	}
}

// Finish ends the audit: no more bytes come. The rest of a frame that was cut off is
// no fault.
func (a *Audit) Finish() {
	if a.first == nil || a.last == nil || a.board == nil {
		if a.announcements == 0 {
			a.note(RuleAnnounced, a.at,
				"in %d bytes there is no intact announcement; it is sent at start and about once a "+
					"second", a.at)
		}
		return
	}
	instants := float64(a.last.Counter-a.first.Counter) + float64(a.last.Overflow-a.first.Overflow)
	us := float64(a.last.Tick - a.first.Tick)
	if instants < float64(a.board.Rate) || us == 0 { // less than a second says little
		return
	}
	if rate := instants * 1e6 / us; rate < float64(a.board.Rate)*(1-tickSlack) ||
		rate > float64(a.board.Rate)*(1+tickSlack) {
		a.note(RuleRate, a.at, "by the board's own tick %.1f instants a second; the announcement says %d, within 2 %%",
			rate, a.board.Rate)
	}
}

// Findings returns what was found, one for each rule, in the order in which it came.
func (a *Audit) Findings() []Finding { return a.found.list }

// Frames returns how many intact data frames there were.
func (a *Audit) Frames() int { return a.frames }

// Announcements returns how many intact announcements there were.
func (a *Audit) Announcements() int { return a.announcements }

// Skipped returns how many intact frames of unknown types there were.
func (a *Audit) Skipped() int { return a.skipped }

// note keeps a finding that belongs to no block.
func (a *Audit) note(rule Rule, at uint64, format string, args ...any) {
	a.found.keep(Finding{Rule: rule, At: at, Problem: fmt.Sprintf(format, args...)})
}

// fault keeps a finding at an offset of the present block.
func (a *Audit) fault(rule Rule, mark int, format string, args ...any) {
	a.found.keep(Finding{Rule: rule, At: a.start + uint64(mark), Problem: fmt.Sprintf(format, args...), Block: a.block,
		Mark: mark})
}

// findings are what was found, one for each rule.
type findings struct{ list []Finding }

func (l *findings) keep(f Finding) {
	for i := range l.list {
		if l.list[i].Rule == f.Rule {
			l.list[i].Times++
			return
		}
	}
	f.Times = 1
	f.Block = bytes.Clone(f.Block)
	l.list = append(l.list, f)
}

// endBlock looks at a block that a delimiter has ended.
func (a *Audit) endBlock() {
	if !a.joined {
		return // the rest of a frame that began before
	}
	intact := a.frames + a.announcements + a.skipped
	defer func() {
		if a.frames+a.announcements+a.skipped == intact {
			a.damaged++
		}
	}()
	if len(a.block) > maxEncoded {
		a.fault(RuleLength, 0, "more than %d bytes without a delimiter", maxEncoded)
		return
	}
	payload, ok := a.decode()
	if !ok {
		return
	}
	known := payload[0] == typeAnnouncement || payload[0] == typeData
	if known && a.zeros < 2 && a.start > uint64(a.zeros) {
		a.fault(RuleDelimiters, 0, "one delimiter 00 between two frames: each frame has its own before and after it")
	}
	switch payload[0] {
	case typeAnnouncement:
		a.announcement(payload)
	case typeData:
		a.data(payload)
	default:
		if sealed(payload, announcementSeed) {
			a.skipped++
			return
		}
		a.fault(RuleCRC, 0, "a block of unknown type %02X whose CRC with start value FFFF does not fit either: "+
			"damage, or another framing", payload[0])
	}
}

// decode undoes the COBS of the present block.
func (a *Audit) decode() ([]byte, bool) {
	for i := 0; i < len(a.block); {
		code := int(a.block[i])
		if i+code > len(a.block) {
			a.fault(RuleCOBS, i, "code byte %02X says that its piece has %d bytes; %d follow before the delimiter",
				code, code-1, len(a.block)-i-1)
			return nil, false
		}
		i += code
	}
	payload, ok := decodeCOBS(make([]byte, len(a.block)), a.block)
	switch {
	case !ok:
		a.fault(RuleCOBS, len(a.block)-1,
			"a needless code byte 01 at the end: a piece of 254 bytes (code FF) implies no "+
				"zero after it")
	case len(payload) <= crcLen:
		a.fault(RuleLength, 0, "a payload of %d bytes; the shortest has a type, a body and two bytes of CRC",
			len(payload))
		ok = false
	}
	return payload, ok
}

func (a *Audit) announcement(p []byte) {
	if !sealed(p, announcementSeed) {
		a.crcFault(p, announcementSeed)
		return
	}
	body := p[1 : len(p)-crcLen]
	board, err := parseAnnouncement(body)
	if err != nil {
		a.fault(RuleAnnouncement, 0, "%v", err)
		return
	}
	if body[len(body)-1] != '\n' {
		a.fault(RuleAnnouncement, len(a.block)-1, "the last line is not ended by 0A")
	}
	if err := board.Readable(); err != nil {
		a.fault(RuleAnnouncement, 0, "%v", err)
	}
	a.announcements++
	if a.board != nil && a.board.Boot != board.Boot {
		a.last, a.first = nil, nil
	}
	a.board, a.seed = board, Seed(board.Layout)
	a.silenceReported = false
	if a.last != nil {
		a.announcedTick = a.last.Tick
	}
}

func (a *Audit) data(p []byte) {
	if a.board == nil {
		return // seed unknown: the stream may have been joined midway
	}
	n := len(a.board.Channels)
	if len(p) != dataLen(n) {
		a.fault(RuleLength, 0, "a data payload of %d bytes; layout %q has %d (type 1, counter 4, tick 4, overflow 2, "+
			"counts %d, CRC 2)",
			len(p), a.board.Layout, dataLen(n), 2*n)
		return
	}
	if !sealed(p, a.seed) {
		a.crcFault(p, a.seed)
		return
	}
	f := Frame{Counter: binary.LittleEndian.Uint32(p[1:]), Tick: binary.LittleEndian.Uint32(p[5:]),
		Overflow: binary.LittleEndian.Uint16(p[9:]), N: n}
	for i := range n {
		f.Counts[i] = binary.LittleEndian.Uint16(p[dataHead+2*i:])
		if int(f.Counts[i])>>a.board.Bits != 0 {
			a.fault(RuleCount, 0, "count %d (%04X) of channel %d does not fit %d bits; low byte first", f.Counts[i],
				f.Counts[i], i, a.board.Bits)
		}
	}
	a.frames++
	a.compareWithLast(&f)
}

// compareWithLast holds a frame against the one before.
func (a *Audit) compareWithLast(f *Frame) {
	defer func() { a.last, a.damaged = f, 0 }()
	if a.last == nil {
		a.first, a.announcedTick = f, f.Tick
		return
	}
	l := a.last
	switch step := f.Counter - l.Counter; {
	case step == 0:
		a.fault(RuleCounter, 0, "counter %d twice in a row", f.Counter)
	case step != 1 && f.Counter < maxReorder && l.Counter > f.Counter:
		a.fault(RuleBoot, 0, "counter goes from %d to %d, a new start, but no announcement with another boot came "+
			"before", l.Counter, f.Counter)
		a.first = f
		return
	case step > 1+a.damaged: // a damaged block may have been a frame
		a.fault(RuleCounter, 0, "counter goes from %d to %d: up by 1 with each frame handed to the line, or frames "+
			"were lost on the way", l.Counter, f.Counter)
	}
	if rise := f.Overflow - l.Overflow; rise >= 1<<15 {
		a.fault(RuleOverflow, 0, "overflow goes from %d down to %d", l.Overflow, f.Overflow)
	} else if period := 1e6 / float64(a.board.Rate); f.Counter != l.Counter && !fits(l.mark(), f.mark(), period) {
		a.fault(RuleTick, 0, "tick moves by %d µs over %d frames and %d missed instants; at %d a second one instant "+
			"is %.0f µs, within half of that plus 2 %%", f.Tick-l.Tick, f.Counter-l.Counter, rise, a.board.Rate, period)
	}
	if f.Tick-a.announcedTick > maxAnnouncementGapUs && !a.silenceReported {
		a.silenceReported = true
		a.fault(RuleAnnounced, 0, "no announcement for %.1f s: about once a second is asked for",
			float64(f.Tick-a.announcedTick)/1e6)
	}
}
