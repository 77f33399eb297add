package capture

import (
	"bufio"
	"bytes"
	"cmp"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/frame"
	"evendraw/internal/plain"
)

// Quantity is what the columns of a table hold.
type Quantity string

// Quantities by the first letters of the columns' names.
const (
	Counts Quantity = "c"   // raw counts of the converter
	Volts  Quantity = "v"   // volts of the sensor
	KPa    Quantity = "kpa" // absolute kPa
)

const (
	timeColumn = "t_us"
	// typicalRows is from how many rows the usual interval is taken.
	typicalRows = 64
	// gapIntervals is the time between two rows, in usual intervals, from which on rows are missing, and
	// evenGapIntervals the same of a logger whose rows are even: all but one in evenOneIn of the first
	// steps within evenShare of the usual. Chosen: some loggers jitter by up to one interval.
	gapIntervals, evenGapIntervals = 2.5, 1.5
	evenShare, evenOneIn           = 0.25, 4
	tickWrap                       = 1 << 32
	maxCount                       = 1<<16 - 1
)

// Row is one line of a table.
type Row struct {
	// Time is in seconds since the first row; it always rises.
	Time float64
	// Lost is how many rows are missing before this one.
	Lost   uint32
	Values []float64 // by channel

	line int // of the file, from 1
}

// Wrong returns the error of a row that can't be meant so.
func (r *Row) Wrong(problem string) error { return wrong(r.line, 0, "%s", problem) }

// Stats counts the rows of a table.
type Stats struct {
	Rows, Lost, Gaps, Duplicates uint64
}

// Table reads a table of another logger: CSV whose first column is t_us, microseconds, and the
// others one for each channel: c0, c1 … raw counts, or v0 … volts, or kpa0 … absolute kPa. Between the
// columns stand commas; or, as where the comma is the decimal one, semicolons or tabs. Names and
// figures may stand in quotes. A head may come first, as WriteTableHead writes it.
type Table struct {
	Quantity Quantity
	Channels int
	// Serial is the board that it is taken for; "" is none that has a card.
	Serial string

	lines     *bufio.Scanner
	separator byte // between columns
	line      int
	firstRows []Row   // the first rows, read to learn the interval
	interval  float64 // usual, s
	gapFrom   float64 // s between two rows from which on some are missing
	first     float64 // µs
	last      float64 // µs, unwrapped
	lastRaw   float64 // µs, as written
	started   bool
	previous  float64 // s, of the last row given out
	stats     Stats
}

// openTable reads the start of a table whose head, if it has one, had so many lines.
func openTable(r io.Reader, headLines int) (*Table, error) {
	t := &Table{lines: bufio.NewScanner(r), line: headLines}
	t.lines.Buffer(make([]byte, 4096), 64<<10)
	if !t.scan() {
		return nil, t.endError()
	}
	first, err := t.unquote(bytes.TrimPrefix(t.lines.Bytes(), []byte(bom)))
	if err != nil {
		return nil, err
	}
	names := string(first)
	t.separator = ','
	if at := strings.IndexAny(names, ",;\t"); at >= 0 {
		t.separator = names[at]
	}
	if err := t.columns(names); err != nil {
		return nil, err
	}
	for len(t.firstRows) < typicalRows {
		var row Row
		if err := t.parse(&row); err == io.EOF {
			break
		} else if err != nil {
			return nil, err
		}
		t.firstRows = append(t.firstRows, row)
	}
	if len(t.firstRows) < 2 {
		return nil, wrong(t.line, 0, "a table needs at least two rows")
	}
	var steps []float64
	for i := 1; i < len(t.firstRows); i++ {
		steps = append(steps, t.firstRows[i].Time-t.firstRows[i-1].Time)
	}
	slices.Sort(steps)
	t.interval = steps[len(steps)/2]
	uneven := 0
	for _, step := range steps {
		if math.Abs(step-t.interval) > evenShare*t.interval {
			uneven++
		}
	}
	t.gapFrom = gapIntervals * t.interval
	if uneven*evenOneIn < len(steps) {
		t.gapFrom = evenGapIntervals * t.interval
	}
	return t, checkInterval(t.interval * 1e6)
}

func (t *Table) scan() bool {
	ok := t.lines.Scan()
	if ok {
		t.line++
	}
	return ok
}

// endError returns why there is no further line: io.EOF, or what is wrong.
func (t *Table) endError() error {
	if err := t.lines.Err(); err == bufio.ErrTooLong {
		return wrong(t.line+1, 0, "the line is too long")
	} else if err != nil {
		return err
	}
	return io.EOF
}

// columns reads the names of the columns.
func (t *Table) columns(line string) error {
	names := strings.Split(line, string(t.separator))
	if !strings.EqualFold(strings.TrimSpace(names[0]), timeColumn) {
		return wrong(t.line, 0, "the first column is %q, not %s", plain.Text(names[0]), timeColumn)
	}
	if n := len(names) - 1; n < 1 || n > frame.MaxChannels {
		return wrong(t.line, 0, "%d channels, 1 to %d are possible", n, frame.MaxChannels)
	}
	for i, name := range names[1:] {
		name = strings.ToLower(strings.TrimSpace(name))
		q := Quantity(strings.TrimRight(name, "0123456789"))
		known := q == Counts || q == Volts || q == KPa
		if !known || name != string(q)+strconv.Itoa(i) || i > 0 && q != t.Quantity {
			return wrong(t.line, 0, "column %d is %q: after %s come c0, c1 … or v0, v1 … or kpa0, kpa1 …", i+2,
				plain.Text(name), timeColumn)
		}
		t.Quantity = q
	}
	t.Channels = len(names) - 1
	return nil
}

// parse reads the next row that is later than the one before.
func (t *Table) parse(r *Row) error {
	for t.scan() {
		line := bytes.TrimSpace(t.lines.Bytes())
		if len(line) == 0 {
			continue
		}
		line, err := t.unquote(line)
		if err != nil {
			return err
		}
		if t.separator != ',' {
			t.useCommas(line)
		}
		us, rest, err := t.number(line, 1)
		if err != nil {
			return err
		}
		if !t.advances(us) {
			t.stats.Duplicates++
			continue
		}
		r.Time, r.Lost, r.Values, r.line = (t.last-t.first)*1e-6, 0, r.Values[:0], t.line
		for i := range t.Channels {
			if i > 0 && len(rest) == 0 {
				return wrong(t.line, 0, "%d values, the head names %d channels", i, t.Channels)
			}
			var v float64
			if v, rest, err = t.number(rest, i+2); err != nil {
				return err
			}
			r.Values = append(r.Values, v)
		}
		if len(rest) > 0 {
			return wrong(t.line, 0, "more values than the %d channels of the head", t.Channels)
		}
		return nil
	}
	return t.endError()
}

// unquote takes the quotes away that spreadsheets put around names and figures; a comma between two is a decimal one.
func (t *Table) unquote(line []byte) ([]byte, error) {
	if bytes.IndexByte(line, quote) < 0 {
		return line, nil
	}
	kept, within := line[:0], false
	for _, c := range line {
		switch {
		case c == quote:
			within = !within
			continue
		case within && c == ',':
			c = '.'
		}
		kept = append(kept, c)
	}
	if within {
		return nil, wrong(t.line, 0, "a quote (\") is not closed")
	}
	return kept, nil
}

const quote = '"'

// useCommas puts points in the place of decimal commas, and commas between the columns.
func (t *Table) useCommas(line []byte) {
	for i, c := range line {
		switch c {
		case ',':
			line[i] = '.'
		case t.separator:
			line[i] = ','
		}
	}
}

// advances takes a row's time stamp, undoes the wrap of a 32-bit clock, and reports
// whether it is later than the one before.
func (t *Table) advances(us float64) bool {
	if !t.started {
		t.first, t.last, t.lastRaw, t.started = us, us, us, true
		return true
	}
	step := us - t.lastRaw
	if step < -tickWrap/2 {
		step += tickWrap
	}
	if step <= 0 {
		return false
	}
	t.lastRaw = us
	t.last += step
	return true
}

// number reads the number that stands first in a line, and returns what comes after its comma.
func (t *Table) number(line []byte, column int) (v float64, rest []byte, err error) {
	v, n := plainDecimal(line)
	if n == 0 {
		cell, _, _ := bytes.Cut(line, comma)
		n = len(cell)
		v, err = strconv.ParseFloat(string(bytes.TrimSpace(cell)), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, nil, wrong(t.line, 0, "column %d: %q is not a number", column,
				plain.Text(string(cell[:min(n, 40)])))
		}
	}
	return v, line[min(n+1, len(line)):], t.check(v, column)
}

var comma = []byte{','}

// check refuses a number that its column can't hold.
func (t *Table) check(v float64, column int) error {
	if column > 1 && t.Quantity == Counts && (v != math.Trunc(v) || v < 0 || v > maxCount) {
		return wrong(t.line, 0, "column %d: %v is not a count from 0 to %d", column, v, maxCount)
	}
	if column > 1 && t.Quantity == KPa && !(v >= leastKPa && v <= mostKPa) {
		return wrong(t.line, 0, "column %d: %v is no absolute pressure in kPa of an engine, it is from %d to %d%s",
			column, v, leastKPa, mostKPa, looksLike(v, pressureUnits))
	}
	return nil
}

// Read reads the next row into r, whose Values are used again; io.EOF comes after the last. Rows that are
// not later than the one before are counted and left out.
func (t *Table) Read(r *Row) error {
	if len(t.firstRows) > 0 {
		first := &t.firstRows[0]
		r.Time, r.Lost, r.Values, r.line = first.Time, 0, append(r.Values[:0], first.Values...), first.line
		t.firstRows = t.firstRows[1:]
	} else if err := t.parse(r); err != nil {
		return err
	}
	if step := r.Time - t.previous; t.stats.Rows > 0 && step > t.gapFrom {
		r.Lost = uint32(math.Round(step/t.interval)) - 1
		t.stats.Lost += uint64(r.Lost)
		t.stats.Gaps++
	}
	t.previous = r.Time
	t.stats.Rows++
	return nil
}

// Stats returns the counters as of the last row read.
func (t *Table) Stats() Stats { return t.stats }

// Board returns an announcement for the table's logger, whose converter has the given
// bits: rows of counts become its frames.
func (t *Table) Board(bits int) *frame.Announcement {
	a := &frame.Announcement{Protocol: frame.Version, Model: "table", Serial: cmp.Or(t.Serial, "table"), Boot: "0",
		Program: "-", Layout: frame.Layout(t.Channels), Bits: bits, ReferenceMV: 5000, Ratiometric: true,
		Rate: max(1, int(math.Round(1/t.interval)))}
	for range t.Channels {
		a.Channels = append(a.Channels, frame.Channel{Role: frame.Pressure, Unit: "kPa"})
	}
	return a
}

// Interval returns the usual time between rows in seconds.
func (t *Table) Interval() float64 { return t.interval }

// Frame turns a row of counts into a frame.
func (r *Row) Frame() frame.Frame {
	f := frame.Frame{Tick: uint32(uint64(math.Round(r.Time * 1e6))), N: len(r.Values), Lost: r.Lost}
	for i, v := range r.Values {
		f.Counts[i] = uint16(v)
	}
	return f
}
