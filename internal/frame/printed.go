package frame

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
)

// Printed says whether a board sends the printed dialect of PROTOCOL.md, and where its
// time then comes from.
type Printed string

// Kinds of boards by what they send.
const (
	NotPrinted Printed = ""      // frames
	WithClock  Printed = "clock" // lines with t_us: losses of whole instants show as steps in time
	NoClock    Printed = "none"  // lines of counts alone: losses don't show, time comes from the rate
)

// Constants of the printed dialect.
const (
	maxLine = 128 // bytes; the longest good line has 10 + 8*6
	// firstLines is how many good lines in a row make a board known. Chosen: the counts
	// of a pulsation never rise 64 times by equal steps, as a clock does.
	firstLines = 64
	// maxStepStray is the share by which a clock's step may be off the usual one.
	// Chosen: a board that prints has jitter, but does not take twice the time.
	maxStepStray = 0.5
	// gapSteps is the step in time, in periods, from which on lines were lost.
	gapSteps   = 1.5
	clockName  = "t_us"
	rateKey    = "rate"
	remarkMark = '#'
)

// printer decodes the printed dialect. The zero value waits for lines.
type printer struct {
	line []byte
	long bool

	firstRows [][]uint32 // the first lines, until they say enough
	columns   int        // values in a line
	named     bool       // a line with the columns' names was seen
	clock     bool       // the first value is t_us
	remarks   Announcement

	board   *Announcement
	period  float64 // µs
	frame   Frame
	started bool
	time    float64 // µs, NoClock
	skipped uint32  // damaged lines since the last good one
}

// push takes one byte and reports whether it ended a line.
func (p *printer) push(b byte) bool {
	if b == '\n' {
		return true
	}
	if len(p.line) < maxLine {
		p.line = append(p.line, b)
	} else {
		p.long = true
	}
	return false
}

// take returns the line that has ended: without the carriage return before its end, or the
// first maxLine bytes of one that is too long, and not ok.
func (p *printer) take() (line []byte, ok bool) {
	line, ok = p.line, !p.long
	if ok {
		line = bytes.TrimRight(line, "\r")
	}
	p.line, p.long = p.line[:0], false
	return line, ok
}

// values reads a line of numbers; ok is false when it is none.
func values(line []byte, into []uint32) (v []uint32, ok bool) {
	v = into[:0]
	for cell := range bytes.SplitSeq(line, []byte{','}) {
		cell = bytes.Trim(cell, " \t")
		if len(cell) == 0 || len(cell) > 10 || len(v) > MaxChannels {
			return nil, false
		}
		var n uint64
		for _, c := range cell {
			if c < '0' || c > '9' {
				return nil, false
			}
			n = n*10 + uint64(c-'0')
		}
		if n > 1<<32-1 {
			return nil, false
		}
		v = append(v, uint32(n))
	}
	return v, true
}

// takeRemark takes a line that begins with #, the columns' names or an empty line, and
// reports whether it was one.
func (p *printer) takeRemark(line []byte) bool {
	if names, ok := bytes.CutPrefix(line, []byte(clockName+",")); ok {
		if p.board == nil { // a known board's columns are known
			p.named, p.clock = true, true
			p.columns = 2 + bytes.Count(names, []byte{','})
		}
		return true
	}
	if len(line) == 0 {
		return true
	}
	if line[0] != remarkMark {
		return false
	}
	key, value, _ := strings.Cut(strings.TrimSpace(string(line[1:])), " ")
	p.remarks.Protocol = Version
	switch key {
	case "model", "serial", "boot", "program", "bits", "reference_mv", rateKey:
		was := p.remarks
		if p.remarks.set(key, value) != nil {
			p.remarks = was
		}
	}
	return true
}

// sniff looks at a line before the board is known. A stream of anything else
// never gives firstLines good lines in a row.
func (p *printer) sniff(line []byte, sound bool) {
	if sound && p.takeRemark(line) {
		return
	}
	v, ok := values(line, nil)
	least, most := 2, MaxChannels
	if p.clock {
		most++
	}
	if !sound || !ok || len(v) < least || len(v) > most+1 || len(p.firstRows) > 0 && len(v) != len(p.firstRows[0]) {
		p.firstRows = p.firstRows[:0]
		return
	}
	if p.firstRows = append(p.firstRows, v); len(p.firstRows) == firstLines {
		p.makeBoard()
	}
}

// makeBoard makes the announcement of a board that can't announce itself.
func (p *printer) makeBoard() {
	n := len(p.firstRows[0])
	step := p.usualStep()
	p.clock = step > 0 && (p.named || p.runsAsClock(step))
	if rest := (&printer{firstRows: p.firstRows[1:]}); !p.clock && rest.runsAsClock(rest.usualStep()) {
		p.firstRows = p.firstRows[1:] // the stream was joined within a row, which lost its first digits
		return
	}
	if p.columns != n {
		p.named = false
	}
	p.columns = n
	if p.clock {
		n--
	}
	if n > MaxChannels || n < 1 {
		p.firstRows = p.firstRows[:0]
		return
	}
	a := p.remarks
	a.Protocol, a.Layout, a.Printed = Version, Layout(n), NoClock
	a.Model, a.Program = nameOr(a.Model, "printed lines"), nameOr(a.Program, "unknown")
	a.Serial, a.Boot = nameOr(a.Serial, "printed"), nameOr(a.Boot, "0")
	if p.clock {
		a.Printed = WithClock
		a.Rate = min(max(int(1e6/step+0.5), minRate), maxRate)
	}
	if a.ReferenceMV == 0 {
		a.ReferenceMV, a.Ratiometric = usualReferenceMV, true
	}
	a.Bits = max(a.Bits, minBits)
	for _, v := range p.firstRows {
		for _, c := range v[len(v)-n:] {
			a.Bits = max(a.Bits, bitsFor(c))
		}
	}
	for range n {
		a.Channels = append(a.Channels, Channel{Role: Pressure, Unit: "kPa"})
	}
	p.board = &a
	p.period = 1e6 / float64(max(a.Rate, 1))
	p.firstRows = nil
}

// usualReferenceMV is the converter's reference, and the sensors' supply, of a board that
// does not say.
const usualReferenceMV = 5000

// nameOr returns s if it can be a name, else usual.
func nameOr(s, usual string) string {
	if s == "" || len(s) > maxNameLen || strings.Trim(s, idCharacters+" .") != "" {
		return usual
	}
	return s
}

// bitsFor returns the usual converter that a count fits: 10, 12 or 16 bits.
func bitsFor(count uint32) int {
	switch {
	case count < 1<<10:
		return 10
	case count < 1<<12:
		return 12
	}
	return 16
}

// usualStep returns the usual step of the first column in µs, the mean of those that are
// no gap; 0 if the column does not always rise.
func (p *printer) usualStep() float64 {
	var steps []uint32
	for i := 1; i < len(p.firstRows); i++ {
		d := p.firstRows[i][0] - p.firstRows[i-1][0]
		if d == 0 || d > 1<<31 {
			return 0
		}
		steps = append(steps, d)
	}
	slices.Sort(steps)
	most := gapSteps * float64(steps[len(steps)/2])
	var sum, n float64
	for _, d := range steps {
		if float64(d) <= most {
			sum, n = sum+float64(d), n+1
		}
	}
	return sum / n
}

// runsAsClock reports whether the first column rises as a clock does, at a rate that the
// protocol allows.
func (p *printer) runsAsClock(step float64) bool {
	if step < 1e6/maxRate || step > 1e6/minRate {
		return false
	}
	for i := 1; i < len(p.firstRows); i++ {
		d := float64(p.firstRows[i][0] - p.firstRows[i-1][0])
		if d < step*(1-maxStepStray) || d > step*(1+maxStepStray) {
			return false
		}
	}
	return true
}

// next decodes a line of a known board; nil where it gives no frame. What it
// returns is valid until the next call.
func (p *printer) next(line []byte, sound bool, stats *Stats) *Frame {
	if sound && p.takeRemark(line) {
		return nil
	}
	var room [MaxChannels + 2]uint32
	v, ok := values(line, room[:])
	n := len(p.board.Channels)
	if !sound || !ok || len(v) != p.columns || !p.countsFit(v[len(v)-n:]) {
		stats.Damaged++
		p.skipped++
		return nil
	}
	f := Frame{N: n, Segment: p.frame.Segment}
	for i, c := range v[len(v)-n:] {
		f.Counts[i] = uint16(c)
	}
	if p.clock {
		p.timeByClock(&f, v[0], stats)
	} else {
		p.timeByRate(&f)
	}
	p.frame, p.started, p.skipped = f, true, 0
	return &p.frame
}

// countsFit reports whether counts fit the converter.
func (p *printer) countsFit(counts []uint32) bool {
	for _, c := range counts {
		if c>>p.board.Bits != 0 {
			return false
		}
	}
	return true
}

// timeByClock gives a frame the time that its line says.
func (p *printer) timeByClock(f *Frame, us uint32, stats *Stats) {
	f.Tick = us
	if !p.started {
		return
	}
	d := us - p.frame.Tick
	if d == 0 || d > 1<<31 { // backwards: the board has restarted
		f.Segment++
		stats.Restarts++
		return
	}
	periods := float64(d) / p.period
	f.Counter = p.frame.Counter + 1
	if periods > gapSteps {
		f.Lost = uint32(periods+0.5) - 1
		f.Counter += f.Lost
	}
}

// timeByRate gives a frame the time that its number says.
func (p *printer) timeByRate(f *Frame) {
	if p.started {
		f.Lost = p.skipped
		f.Counter = p.frame.Counter + 1 + p.skipped
		p.time += p.period * float64(1+p.skipped)
	}
	f.Tick = uint32(uint64(p.time))
}

// LooksPrinted reports whether text, the start of a file, begins with printed
// lines: after remarks and names of columns, a line of two or more numbers.
func LooksPrinted(text []byte) bool {
	var p printer
	for line := range bytes.Lines(text) {
		if line[len(line)-1] != '\n' {
			break
		}
		line = bytes.TrimRight(line, "\r\n")
		if p.takeRemark(line) {
			continue
		}
		v, ok := values(line, nil)
		return ok && len(v) > 1
	}
	return false
}

// RateRemark returns the line that gives the rate of a board which prints counts
// alone. Whoever listens may put it before the bytes.
func RateRemark(rate int) []byte {
	return []byte("# " + rateKey + " " + strconv.Itoa(rate) + "\n")
}
