package frame

import (
	"encoding/binary"
	"math/bits"
)

// crcFault keeps a finding of a wrong CRC, with the slip that explains it, if one does.
func (a *Audit) crcFault(p []byte, seed uint16) {
	end := len(p) - crcLen
	got := binary.LittleEndian.Uint16(p[end:])
	mark := len(a.block) - crcLen
	why := crcSlip(p[:end], got, seed)
	if why == "" {
		why = "no usual slip explains it: damage on the way?"
	}
	a.fault(RuleCRC, mark, "CRC %04X, but start value %04X over these %d bytes gives %04X; %s", got, seed, end,
		CRC(seed, p[:end]), why)
}

// crcSlip names the slip by which a CRC comes out as got, "" if none is known.
func crcSlip(p []byte, got, seed uint16) string {
	swapped := bits.ReverseBytes16(got)
	for _, slip := range []struct {
		value uint16
		why   string
	}{
		{bits.ReverseBytes16(CRC(seed, p)), "it is sent high byte first; low byte first is asked for"},
		{CRC(announcementSeed, p), "it was started from FFFF; the start value of data is the CRC of the layout's text"},
		{CRC(0, p), "it was started from 0000"},
		{CRC(seed, p[1:]), "the type byte was left out"},
		{CRC(seed, p) ^ 0xFFFF, "a final exclusive-or with FFFF was made"},
		{reflectedCRC(seed, p), "the reflected form was used (least significant bit first)"},
		{reflectedCRC(0xFFFF, p), "the reflected form was used (least significant bit first), started from FFFF"},
		{reflectedCRC(0xFFFF, p) ^ 0xFFFF,
			"the reflected form was used (least significant bit first), started from FFFF, " +
				"with a final exclusive-or"},
		{CRC(0x1D0F, p), "it was started from 1D0F"},
	} {
		if slip.value == got {
			return slip.why
		}
		if slip.value == swapped {
			return slip.why + ", and the high byte sent first"
		}
	}
	for n := 1; n <= MaxChannels; n++ {
		if CRC(Seed(Layout(n)), p) == got {
			return "the start value is that of another layout: " + Layout(n)
		}
	}
	return ""
}

// reflectedCRC is the CRC with the same polynomial, but the least significant bit first
// in each byte and in the result.
func reflectedCRC(seed uint16, p []byte) uint16 {
	c := seed
	for _, b := range p {
		c ^= uint16(b)
		for range 8 {
			if c&1 != 0 {
				c = c>>1 ^ 0x8408 // 1021, bits reversed
			} else {
				c >>= 1
			}
		}
	}
	return c
}
