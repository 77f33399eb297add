package frame

import "encoding/binary"

// Frame is what the board sampled at one instant.
type Frame struct {
	Counter  uint32 // number of the frame since the board's start, wraps
	Tick     uint32 // board clock in µs when channel 0 was sampled, wraps
	Overflow uint16 // instants that gave no frame since start, wraps
	N        int    // number of channels
	Counts   [MaxChannels]uint16

	// Lost is how many frames before this one never arrived.
	Lost uint32
	// Missed is how many sampling instants before this frame the board itself
	// let pass.
	Missed uint16
	// Segment goes up by one when the board has restarted; ticks of two segments
	// can't be compared.
	Segment int
}

const (
	typeAnnouncement = 'A'
	typeData         = 'D'

	maxPayload = 512
	maxEncoded = maxPayload + maxPayload/254 + 1
	dataHead   = 11 // type, counter, tick, overflow
	crcLen     = 2
)

// dataLen returns the payload length of a data frame with n channels.
func dataLen(n int) int { return dataHead + 2*n + crcLen }

// AppendData appends f, as a board with seed and f.N channels sends it with both
// delimiters, to dst. Lost, Missed and Segment are not sent.
func AppendData(dst []byte, seed uint16, f *Frame) []byte {
	var buf [dataHead + 2*MaxChannels + crcLen]byte
	p := append(buf[:0], typeData)
	p = binary.LittleEndian.AppendUint32(p, f.Counter)
	p = binary.LittleEndian.AppendUint32(p, f.Tick)
	p = binary.LittleEndian.AppendUint16(p, f.Overflow)
	for _, c := range f.Counts[:f.N] {
		p = binary.LittleEndian.AppendUint16(p, c)
	}
	return appendBlock(dst, seed, p)
}

// AppendAnnouncement appends a, with both delimiters, to dst.
func AppendAnnouncement(dst []byte, a *Announcement) []byte {
	return appendBlock(dst, announcementSeed, append([]byte{typeAnnouncement}, a.text()...))
}

// appendBlock seals payload with its CRC, and frames it.
func appendBlock(dst []byte, seed uint16, payload []byte) []byte {
	payload = binary.LittleEndian.AppendUint16(payload, CRC(seed, payload))
	dst = append(dst, 0)
	dst = appendCOBS(dst, payload)
	return append(dst, 0)
}

// parseData reads into f a data payload of the board that announced a; it returns false
// when the payload is not intact, and f is then not to be used.
func parseData(f *Frame, payload []byte, a *Announcement, seed uint16) bool {
	n := len(a.Channels)
	if len(payload) != dataLen(n) || n > MaxChannels || !sealed(payload, seed) {
		return false
	}
	f.Counter = binary.LittleEndian.Uint32(payload[1:])
	f.Tick = binary.LittleEndian.Uint32(payload[5:])
	f.Overflow = binary.LittleEndian.Uint16(payload[9:])
	f.N, f.Counts = n, [MaxChannels]uint16{}
	var all uint16
	body := payload[dataHead:]
	for i := range f.Counts[:n] {
		count := binary.LittleEndian.Uint16(body[2*i:])
		f.Counts[i] = count
		all |= count
	}
	return all>>a.Bits == 0
}

// sealed reports whether the last two bytes of payload are its CRC.
func sealed(payload []byte, seed uint16) bool {
	if len(payload) <= crcLen {
		return false
	}
	end := len(payload) - crcLen
	return CRC(seed, payload[:end]) == binary.LittleEndian.Uint16(payload[end:])
}
