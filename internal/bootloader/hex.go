package bootloader

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

const (
	// PageSize is what an ATmega328P writes at a time, in bytes: 64 words (data sheet DS40002011A).
	PageSize = 128
	// Room is how many bytes a program may have: of the 32 KB the upper 2 KB are left to the boot loader. The
	// usual ones have 512 bytes or 2 KB.
	Room = 0x7800
)

// Page is the content of one page of the flash.
type Page [PageSize]byte

// blankPage is a page that was erased.
var blankPage = Page(bytes.Repeat([]byte{0xFF}, PageSize))

// stillPage is a page 0 that runs nothing: RJMP to itself (AVR instruction set: 1100 kkkk kkkk kkkk, k = -1).
var stillPage = func() Page {
	p := blankPage
	p[0], p[1] = 0xFF, 0xCF
	return p
}()

// Image is a program as it lies in the flash; the zero value holds nothing.
type Image struct {
	pages map[int]*Page
	taken map[int]bool // addresses that a record has given
}

// Still is an image that makes a board run nothing and stay silent.
func Still() *Image {
	p := stillPage
	return &Image{pages: map[int]*Page{0: &p}}
}

// Pages returns the numbers of the pages that hold something, in order.
func (m *Image) Pages() []int { return slices.Sorted(maps.Keys(m.pages)) }

// Page returns a page; one that holds nothing is as erased.
func (m *Image) Page(n int) Page {
	if p := m.pages[n]; p != nil {
		return *p
	}
	return blankPage
}

// Bytes is how many bytes of flash the pages take.
func (m *Image) Bytes() int { return len(m.pages) * PageSize }

// Types of records of an Intel-hex file.
const (
	recordData    = 0
	recordEnd     = 1
	recordSegment = 2 // address base, in units of 16 bytes
	recordStart   = 3 // where a processor of other makes starts; this chip starts at 0
	recordLinear  = 4 // address base, in units of 64 KB
	recordStart32 = 5
)

// ReadHex reads an Intel-hex file (Hexadecimal Object File Format Specification, revision A, 1988). The file must
// be whole: each record right, an end record last, the chip's first instruction in it, no address twice and none
// from Room up. Its error names the line.
func ReadHex(r io.Reader) (*Image, error) {
	m := &Image{pages: map[int]*Page{}, taken: map[int]bool{}}
	lines := bufio.NewScanner(r)
	n, base, ended := 0, 0, false
	for lines.Scan() {
		n++
		text := strings.TrimRight(lines.Text(), " \t\r")
		if text == "" {
			continue
		}
		if ended {
			return nil, fmt.Errorf("hex file, line %d: after the end record", n)
		}
		rec, err := parseRecord(text)
		if err == nil {
			ended = rec.kind == recordEnd
			err = m.take(rec, &base)
		}
		if err != nil {
			return nil, fmt.Errorf("hex file, line %d: %w", n, err)
		}
	}
	switch {
	case lines.Err() != nil:
		return nil, fmt.Errorf("hex file, line %d: %w", n+1, lines.Err())
	case !ended:
		return nil, fmt.Errorf("hex file: no end record: cut off after line %d", n)
	case !m.taken[0]:
		return nil, fmt.Errorf("hex file: nothing at address 0, where the chip starts")
	}
	return m, nil
}

// record is a line of a hex file.
type record struct {
	kind byte
	at   int
	data []byte
}

// parseRecord reads ":" and, in hexadecimal, length, address, type, data, and what makes the sum of all zero.
func parseRecord(text string) (record, error) {
	if text[0] != ':' {
		return record{}, fmt.Errorf("no record: it begins with %q", text[0])
	}
	b, err := hex.DecodeString(text[1:])
	if err != nil {
		return record{}, fmt.Errorf("no record: %w", err)
	}
	const around = 5 // length, two of address, type, sum
	if len(b) < around || len(b) != int(b[0])+around {
		return record{}, fmt.Errorf("a record of %d bytes has another length than it says", len(b))
	}
	var sum byte
	for _, x := range b {
		sum += x
	}
	if sum != 0 {
		return record{}, fmt.Errorf("wrong sum: off by %#02x", sum)
	}
	return record{kind: b[3], at: int(b[1])<<8 | int(b[2]), data: b[4 : len(b)-1]}, nil
}

// take puts a record's data into the image.
func (m *Image) take(r record, base *int) error {
	switch r.kind {
	case recordData:
		for i, x := range r.data {
			if err := m.put(*base+r.at+i, x); err != nil {
				return err
			}
		}
	case recordSegment, recordLinear:
		if len(r.data) != 2 {
			return fmt.Errorf("an address base of %d bytes", len(r.data))
		}
		shift := map[byte]int{recordSegment: 4, recordLinear: 16}[r.kind]
		*base = (int(r.data[0])<<8 | int(r.data[1])) << shift
	case recordEnd, recordStart, recordStart32:
	default:
		return fmt.Errorf("a record of type %d", r.kind)
	}
	return nil
}

func (m *Image) put(at int, x byte) error {
	if at >= Room {
		return fmt.Errorf("address %#x is the boot loader's or beyond: a program ends below %#x", at, Room)
	}
	if m.taken[at] {
		return fmt.Errorf("address %#x is given twice", at)
	}
	m.taken[at] = true
	p := m.pages[at/PageSize]
	if p == nil {
		fresh := blankPage
		p = &fresh
		m.pages[at/PageSize] = p
	}
	p[at%PageSize] = x
	return nil
}
