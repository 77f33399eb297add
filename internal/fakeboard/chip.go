package fakeboard

import (
	"bytes"
	"context"
	"io"
	"sync"
	"time"
)

// Flash is the content of a chip's flash.
type Flash [32 * 1024]byte

// BlankFlash is a flash that was erased.
func BlankFlash() *Flash { return (*Flash)(bytes.Repeat([]byte{0xFF}, len(Flash{}))) }

// Chip is a board with a serial boot loader, on a Cable of its own. Opening the port or pulling its reset line
// starts the boot loader; when that has heard nothing for its window, or a byte that it doesn't know, it starts the
// program in the flash. It works in virtual time; Unplug ends what it has begun.
type Chip struct {
	*Cable
	Flash     *Flash
	Baud      int           // the boot loader's, bit/s; 0 is none
	Signature [3]byte       // the chip's
	Late      time.Duration // how late each answer of the boot loader comes
	Noise     int           // so many answers have noise before them
	NoReset   bool          // no line restarts the board, only Button
	// Program is what the program in the flash sends, and at which rate, bit/s; nil sends nothing.
	Program func(*Flash) (io.Reader, int)
	// PullAfter is after how many bytes from the host the lead is pulled; 0 is never.
	PullAfter int
	// Spoil, unless nil, may change an answer of the boot loader.
	Spoil func(answer []byte) []byte

	Taken    int  // bytes from the host
	Trespass bool // something was asked for that Install must never ask for

	state   sync.Mutex // guards what follows, and Flash, Taken, Noise, Trespass
	host    int        // the host's rate
	sending int        // the rate at which the chip sends, 0 while it is silent
	loading bool
	heard   []byte
	address int
	leave   *time.Timer
	stop    context.CancelFunc // of the program that runs
	ended   chan struct{}      // closed when the program that was started last sends no more; nil before
}

// The usual boot loader's window, and its pages.
const (
	usualWindow = time.Second
	flashPage   = 128
	loaderStart = 0x7800
)

// NewChip returns a blank ATmega328P with a boot loader at 115200 bit/s.
func NewChip(path string) *Chip {
	return &Chip{Cable: NewCable(path), Flash: BlankFlash(), Baud: 115_200, Signature: [3]byte{0x1E, 0x95, 0x0F}}
}

// Unplug pulls the lead: the chip is without power.
func (c *Chip) Unplug() {
	c.state.Lock()
	defer c.state.Unlock()
	c.off()
}

func (c *Chip) off() {
	c.halt()
	c.Cable.Unplug()
}

// halt ends the boot loader or program that runs.
func (c *Chip) halt() {
	if c.stop != nil {
		c.stop()
		c.stop = nil
	}
	if c.leave != nil {
		c.leave.Stop()
	}
	c.loading, c.sending, c.heard = false, 0, nil
}

// Button presses the reset button.
func (c *Chip) Button() {
	c.state.Lock()
	defer c.state.Unlock()
	c.reset()
}

func (c *Chip) reset() {
	c.halt()
	if c.Baud == 0 {
		c.start()
		return
	}
	c.loading, c.sending = true, c.Baud
	var t *time.Timer
	t = time.AfterFunc(usualWindow, func() {
		c.state.Lock()
		defer c.state.Unlock()
		if c.leave == t && c.loading {
			c.start()
		}
	})
	c.leave = t
}

// start runs the program in the flash.
func (c *Chip) start() {
	c.halt()
	if c.Program == nil {
		return
	}
	src, baud := c.Program(c.Flash)
	if src == nil {
		return
	}
	var ctx context.Context
	ctx, c.stop = context.WithCancel(context.Background())
	c.sending = baud
	before, ended := c.ended, make(chan struct{})
	c.ended = ended
	go func() {
		defer close(ended)
		if before != nil {
			<-before // both may read the same engine
		}
		play(ctx, func(p []byte) (int, error) { return c.say(ctx, p) }, src, Pace{})
	}()
}

// say sends bytes of the program that runs until ctx ends; a host that reads none loses them.
func (c *Chip) say(ctx context.Context, p []byte) (dropped int, err error) {
	c.state.Lock()
	defer c.state.Unlock()
	if e := c.port(); e != nil && ctx.Err() == nil {
		p, err = e.put(p)
		return len(p), err
	}
	return len(p), ErrUnplugged
}

// Dial opens the port at a rate, which restarts the board.
func (c *Chip) Dial(path string, baud int) (*ChipEnd, error) {
	end, err := c.Cable.Dial(path, baud)
	if err != nil {
		return nil, err
	}
	e := &ChipEnd{end, c}
	return e, e.Restart(baud)
}

// ChipEnd is the host's end of the cable of a Chip, an open port.
type ChipEnd struct {
	*End
	chip *Chip
}

// Restart pulls the reset line, sets the rate and forgets what came before.
func (e *ChipEnd) Restart(baud int) error {
	time.Sleep(100 * time.Millisecond)
	e.SetBaud(baud)
	c := e.chip
	c.state.Lock()
	defer c.state.Unlock()
	if !c.NoReset && c.Plugged() {
		c.reset()
	}
	e.cable.mu.Lock()
	defer e.cable.mu.Unlock()
	e.buf = e.buf[:0]
	return nil
}

// SetBaud changes the host's rate.
func (e *ChipEnd) SetBaud(baud int) error {
	e.chip.state.Lock()
	defer e.chip.state.Unlock()
	e.chip.host = baud
	return nil
}

// Read gives what has come, broken where it was sent at another rate.
func (e *ChipEnd) Read(p []byte) (int, error) {
	n, err := e.End.Read(p)
	e.chip.state.Lock()
	defer e.chip.state.Unlock()
	if e.chip.sending != e.chip.host {
		for i := range p[:n] {
			p[i] = p[i]<<3 ^ 0x5A
		}
	}
	return n, err
}

// Write sends bytes to the chip.
func (e *ChipEnd) Write(p []byte) (int, error) {
	c := e.chip
	c.state.Lock()
	defer c.state.Unlock()
	for i, b := range p {
		if !c.Plugged() {
			return i, ErrUnplugged
		}
		if c.Taken++; c.Taken == c.PullAfter {
			c.off()
			return i + 1, ErrUnplugged
		}
		if c.loading {
			c.take(b)
		}
	}
	return len(p), nil
}

// commandSize is how long each command is that a boot loader takes, without the bytes to be written.
var commandSize = map[byte]int{'0': 2, 'P': 2, 'Q': 2, 'u': 2, 'U': 4, 'd': 4, 't': 5}

// take takes a byte from the host.
func (c *Chip) take(b byte) {
	if c.host != c.Baud {
		c.start()
		return
	}
	c.leave.Reset(usualWindow)
	c.heard = append(c.heard, b)
	size := commandSize[c.heard[0]]
	if size == 0 {
		c.Trespass = c.Trespass || c.heard[0] == 'V' || c.heard[0] == 'B'
		c.start()
		return
	}
	if c.heard[0] == 'd' {
		if len(c.heard) < size {
			return
		}
		size += int(c.heard[1])<<8 + int(c.heard[2]) + 1
	}
	if len(c.heard) == size {
		command := c.heard
		c.heard = nil
		c.obey(command)
	}
}

// obey does what a whole command says.
func (c *Chip) obey(command []byte) {
	if command[len(command)-1] != ' ' {
		c.start()
		return
	}
	var data []byte
	switch command[0] {
	case 'u':
		data = c.Signature[:]
	case 'U':
		c.address = 2 * (int(command[1]) + int(command[2])<<8)
	case 'd':
		bytes := command[4 : len(command)-1]
		if len(bytes) != flashPage || command[3] != 'F' || c.address+flashPage > loaderStart {
			c.Trespass = true
			return
		}
		copy(c.Flash[c.address:], bytes)
	case 't':
		data = c.Flash[c.address : c.address+flashPage]
	}
	answer := append(append([]byte{0x14}, data...), 0x10)
	if c.Noise > 0 {
		c.Noise--
		answer = append([]byte{0x14, 0xFF, 0x10, 'x', 0}, answer...)
	}
	if c.Spoil != nil {
		answer = c.Spoil(answer)
	}
	if c.Late == 0 {
		c.Send(answer)
	} else {
		time.AfterFunc(c.Late, func() { c.Send(answer) })
	}
	if command[0] == 'Q' {
		c.start()
	}
}
