package frame

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// Version is the protocol version that this package reads and writes.
const Version = 1

// MaxChannels is the largest number of channels in a frame.
const MaxChannels = 8

// Role says what is connected to a channel of the board.
type Role string

// The roles that version 1 of the protocol names.
const (
	Pressure Role = "pressure"
	Lambda   Role = "lambda"
	Spare    Role = "spare"
)

// Channel describes one input of the board.
type Channel struct {
	Role    Role
	Unit    string // of the quantity: kPa, lambda or -
	DelayUs uint32 // this channel is sampled so many µs after the frame's tick
}

// Announcement is what a board says of itself, at its start and once a second.
type Announcement struct {
	Protocol    int    // version on the first line
	Model       string // kind of board
	Serial      string // this one board
	Boot        string // differs from start to start
	Program     string // version of the board's program
	Layout      string // text of the data body's layout
	Bits        int    // converter resolution, 10 to 16
	ReferenceMV int    // converter reference in mV
	Ratiometric bool   // sensors are fed from the converter's reference
	Rate        int    // nominal sampling instants a second, 50 to 5000
	Channels    []Channel
	// Printed is set for a board that can only print: the other fields are then from its
	// remarks, or assumed.
	Printed Printed
}

// PressureChannels are the numbers of the channels that measure pressure.
func (a *Announcement) PressureChannels() (channels []int) {
	for i, c := range a.Channels {
		if c.Role == Pressure {
			channels = append(channels, i)
		}
	}
	return channels
}

const (
	magic        = "evendraw-board"
	layoutPrefix = "counter:u32 tick:u32 overflow:u16 count:u16*"

	minBits, maxBits = 10, 16
	minRate, maxRate = 50, 5000
	maxNameLen       = 32
	maxDelayUs       = 20000 // one period at the slowest rate
)

// Layout returns the layout text of a data frame with n channels.
func Layout(n int) string { return layoutPrefix + strconv.Itoa(n) }

// layoutChannels returns the number of channels of a layout text, or 0 when
// this version does not know the layout.
func layoutChannels(layout string) int {
	rest, ok := strings.CutPrefix(layout, layoutPrefix)
	if !ok || len(rest) != 1 || rest[0] < '1' || rest[0] > '0'+MaxChannels {
		return 0
	}
	return int(rest[0] - '0')
}

// Readable reports whether this version can read the board's data frames,
// and if not, why.
func (a *Announcement) Readable() error {
	if a.Protocol != Version {
		return fmt.Errorf("board speaks protocol %d, this program %d (board program %q)", a.Protocol, Version,
			a.Program)
	}
	if a.Printed == NoClock && a.Rate == 0 {
		return fmt.Errorf("the board prints counts without a clock, and nothing says its rate: a line \"# " +
			"rate 500\" would, or a first column t_us")
	}
	if layoutChannels(a.Layout) == 0 {
		return fmt.Errorf("unknown layout %q of board program %q", a.Layout, a.Program)
	}
	return nil
}

// text returns the announcement's body.
func (a *Announcement) text() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %d\nmodel %s\nserial %s\nboot %s\nprogram %s\nlayout %s\nbits %d\nreference_mv %d",
		magic, a.Protocol, a.Model, a.Serial, a.Boot, a.Program, a.Layout, a.Bits, a.ReferenceMV)
	if a.Ratiometric {
		b.WriteString(" ratiometric")
	}
	fmt.Fprintf(&b, "\nrate %d\n", a.Rate)
	for i, c := range a.Channels {
		fmt.Fprintf(&b, "channel %d %s %s %d\n", i, c.Role, c.Unit, c.DelayUs)
	}
	return b.Bytes()
}

// parseAnnouncement reads the body of an announcement. Of a board with another
// protocol version only the keys common to all versions are read and checked.
func parseAnnouncement(body []byte) (*Announcement, error) {
	for _, c := range body {
		if c != '\n' && (c < 0x20 || c > 0x7E) {
			return nil, fmt.Errorf("byte %#02x in announcement", c)
		}
	}
	first, rest, _ := strings.Cut(string(body), "\n")
	version, ok := strings.CutPrefix(first, magic+" ")
	if !ok {
		return nil, fmt.Errorf("announcement begins %q", first)
	}
	a := &Announcement{}
	var err error
	if a.Protocol, err = number("version", version, 1, 999); err != nil {
		return nil, err
	}
	for line := range strings.Lines(rest) {
		key, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		if err := a.set(key, value); err != nil {
			return nil, err
		}
	}
	return a, a.check()
}

// set takes one line of an announcement; unknown keys are skipped.
func (a *Announcement) set(key, value string) (err error) {
	switch key {
	case "model":
		a.Model = value
	case "serial":
		a.Serial = value
	case "boot":
		a.Boot = value
	case "program":
		a.Program = value
	}
	if a.Protocol != Version {
		return nil
	}
	switch key {
	case "layout":
		a.Layout = value
	case "bits":
		a.Bits, err = number(key, value, minBits, maxBits)
	case "reference_mv":
		value, a.Ratiometric = strings.CutSuffix(value, " ratiometric")
		a.ReferenceMV, err = number(key, value, 500, 10000)
	case "rate":
		a.Rate, err = number(key, value, minRate, maxRate)
	case "channel":
		err = a.addChannel(value)
	}
	return err
}

func (a *Announcement) addChannel(value string) error {
	f := strings.Fields(value)
	if len(f) != 4 || f[0] != strconv.Itoa(len(a.Channels)) || len(a.Channels) == MaxChannels {
		return fmt.Errorf("channel line %q of announcement", value)
	}
	role := Role(f[1])
	if role != Pressure && role != Lambda && role != Spare {
		return fmt.Errorf("channel role %q in announcement", f[1])
	}
	delay, err := number("channel delay", f[3], 0, maxDelayUs)
	a.Channels = append(a.Channels, Channel{role, f[2], uint32(delay)})
	return err
}

func number(key, value string, least, most int) (int, error) {
	n, err := strconv.Atoi(value)
	if err != nil || n < least || n > most {
		return 0, fmt.Errorf("%s %q in announcement is not a number from %d to %d", key, value, least, most)
	}
	return n, nil
}

// check returns what this version needs and does not find.
func (a *Announcement) check() error {
	names := []struct{ key, value string }{
		{"model", a.Model}, {"serial", a.Serial}, {"boot", a.Boot}, {"program", a.Program},
	}
	for _, f := range names {
		if f.value == "" || len(f.value) > maxNameLen {
			return fmt.Errorf("%s %q in announcement", f.key, f.value)
		}
	}
	if strings.Trim(a.Serial+a.Boot, idCharacters) != "" {
		return fmt.Errorf("serial %q or boot %q in announcement has characters outside 0-9 A-Z a-z - _",
			a.Serial, a.Boot)
	}
	if a.Protocol != Version {
		return nil
	}
	n := layoutChannels(a.Layout)
	if a.Layout == "" || a.Bits == 0 || a.Rate == 0 || a.ReferenceMV == 0 || (n != 0 && n != len(a.Channels)) {
		return fmt.Errorf("announcement of board %q is incomplete", a.Serial)
	}
	return nil
}

// idCharacters are those allowed in serial and boot.
const idCharacters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_"
