package frame

// crcSlices holds, for a byte that comes k bytes before the end of a run of eight, what it adds to the CRC at the end
// of the run: of polynomial 0x1021, most significant bit first.
var crcSlices = func() (t [8][256]uint16) {
	for i := range 256 {
		c := uint16(i) << 8
		for bit := range 8 * len(t) {
			c = c<<1 ^ c>>15*0x1021
			if bit%8 == 7 {
				t[bit/8][i] = c
			}
		}
	}
	return t
}()

// announcementSeed is the start value of an announcement's CRC: CRC-16/IBM-3740.
const announcementSeed = 0xFFFF

// CRC returns the CRC-16 of p with polynomial 0x1021, most significant bit
// first, not reflected, without a final exclusive-or, started from seed.
// With seed 0xFFFF it is the catalogued CRC-16/IBM-3740, whose value for
// "123456789" is 0x29B1.
func CRC(seed uint16, p []byte) uint16 {
	c := seed
	for ; len(p) >= 8; p = p[8:] {
		c = crcSlices[7][p[0]^byte(c>>8)] ^ crcSlices[6][p[1]^byte(c)] ^ crcSlices[5][p[2]] ^ crcSlices[4][p[3]] ^
			crcSlices[3][p[4]] ^ crcSlices[2][p[5]] ^ crcSlices[1][p[6]] ^ crcSlices[0][p[7]]
	}
	for ; len(p) >= 2; p = p[2:] {
		c = crcSlices[1][p[0]^byte(c>>8)] ^ crcSlices[0][p[1]^byte(c)]
	}
	for _, b := range p {
		c = c<<8 ^ crcSlices[0][byte(c>>8)^b]
	}
	return c
}

// Seed returns the start value of the CRC of data frames with the given
// layout text: the CRC-16/IBM-3740 of that text.
func Seed(layout string) uint16 { return CRC(announcementSeed, []byte(layout)) }
