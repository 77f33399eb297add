package frame

import (
	"fmt"
	"strings"
)

// The rules of the printed dialect.
const (
	RuleLine    Rule = "line"    // numbers with commas between them, or a remark
	RuleColumns Rule = "columns" // as many numbers in each line
	RuleClock   Rule = "clock"   // goes on by a period from line to line
	RuleTime    Rule = "time"    // a clock, or a remark of the rate
)

// LineAudit holds printed lines against PROTOCOL.md, as Audit does frames. What a board prints
// before the first line of numbers is no fault, and neither is the first line, of which the
// beginning may be missing. The zero value is ready to use.
type LineAudit struct {
	// File is set when the bytes are a file: nobody can then count the lines of a second, and
	// a clock or a rate must be in the bytes.
	File bool

	printer printer
	at      uint64 // offset of the next byte
	start   uint64 // of the line
	number  int    // of the line, from 1
	columns int    // values in a line, 0 before the first
	last    uint32 // first value of the last good line
	good    int
	found   findings
}

// Push takes the next bytes.
func (a *LineAudit) Push(p []byte) {
	for _, b := range p {
		a.at++
		if !a.printer.push(b) {
			continue
		}
		a.number++
		line, sound := a.printer.take()
		a.endLine(line, sound)
		a.start = a.at
	}
}

// Lines returns how many lines of numbers there were in which no fault was found.
func (a *LineAudit) Lines() int { return a.good }

// Findings returns what was found, one for each rule, in the order in which it came.
func (a *LineAudit) Findings() []Finding { return a.found.list }

// Board returns what the lines say of their board, nil before there are enough of them.
func (a *LineAudit) Board() *Announcement { return a.printer.board }

// Finish ends the audit: no more bytes come. The rest of a line that was cut off is no fault.
func (a *LineAudit) Finish() {
	switch {
	case a.printer.board == nil:
		a.fault(RuleLine, nil, 0, "nowhere are there %d good lines in a row, by which a host knows printed lines; "+
			"in all there are %d", firstLines, a.good)
	case a.File && a.printer.board.Rate == 0:
		a.fault(RuleTime, nil, 0, "neither a clock in the first column nor a remark such as \"# rate 500\": a file "+
			"is not read without")
	}
}

// endLine looks at a line that has ended.
func (a *LineAudit) endLine(line []byte, sound bool) {
	if sound && a.printer.takeRemark(line) {
		return
	}
	known := a.printer.board != nil
	before := a.good
	if a.isSound(line, sound) {
		a.good++
	} else if before == 0 {
		a.columns = 0
	}
	if !known {
		a.printer.sniff(line, sound)
	}
}

// isSound reports whether a line is a row of numbers as it must be, and keeps what is
// wrong.
func (a *LineAudit) isSound(line []byte, short bool) bool {
	v, ok := values(line, nil)
	known := a.printer.board != nil
	if known { // the printer has this from many lines
		a.columns = a.printer.columns
	}
	switch {
	case !short:
		a.fault(RuleLine, line, maxLine-1, "line %d has more than %d bytes", a.number, maxLine)
		return false
	case !ok || len(v) < 2:
		a.fault(RuleLine, line, wrongByte(line),
			"line %d is no row of two or more numbers, each of decimal digits, with "+
				"a comma between", a.number)
		return false
	case a.columns > 0 && len(v) != a.columns && (known || a.good > 1):
		a.fault(RuleColumns, line, 0, "line %d has %d numbers, those before it %d", a.number, len(v), a.columns)
		return false
	}
	a.columns = len(v)
	was := a.last
	a.last = v[0]
	b := a.printer.board
	if b == nil {
		return true
	}
	for i, c := range v[len(v)-len(b.Channels):] {
		if c>>b.Bits != 0 {
			a.fault(RuleCount, line, 0, "count %d of channel %d in line %d does not fit %d bits", c, i, a.number,
				b.Bits)
			return false
		}
	}
	if a.printer.clock {
		a.clock(line, v[0], v[0]-was)
	}
	return true
}

// clock holds a step of the clock against its period.
func (a *LineAudit) clock(line []byte, now, step uint32) {
	switch period := a.printer.period; {
	case step == 0 || step > 1<<31:
		a.fault(RuleClock, line, 0, "the clock stands still or goes back to %d in line %d: a new start, or no clock",
			now, a.number)
	case float64(step) > gapSteps*period:
		a.fault(RuleClock, line, 0, "the clock goes on by %d µs to line %d, where a period is %.0f µs: lines were "+
			"lost, or the board was late", step, a.number, period)
	}
}

// wrongByte returns the offset of the first byte that a row of numbers can't have there.
func wrongByte(line []byte) int {
	digits := 0
	for i, b := range line {
		switch {
		case b >= '0' && b <= '9':
			digits++
		case b == ',' && digits > 0:
			digits = 0
		case b != ' ' && b != '\t':
			return i
		}
	}
	return max(len(line)-1, 0)
}

// fault keeps a finding at an offset of a line; before the first good line nothing is a fault.
func (a *LineAudit) fault(rule Rule, line []byte, mark int, format string, args ...any) {
	if line != nil && a.good == 0 {
		return
	}
	f := Finding{Rule: rule, At: a.start + uint64(mark), Problem: fmt.Sprintf(format, args...), Block: line, Mark: mark}
	if line == nil {
		f.At = a.at
	}
	a.found.keep(f)
}

// Text reports whether the block can be shown as text.
func (f *Finding) Text() bool {
	return !strings.ContainsFunc(string(f.Block), func(r rune) bool { return r < ' ' || r > '~' })
}
