// Package frame is the wire format between the board and the host: data frames and announcements,
// their encoding, and a decoder that counts what is lost and damaged. It mirrors
// firmware-protocol/PROTOCOL.md.
//
// In: a board's bytes, in chunks of any size. Out: Frames in order, the board's Announcement, and
// Stats. Begin reading at Decoder.Next; Reader does the same over an io.Reader, and AppendData and
// AppendAnnouncement are the inverse. On the line a frame is
//
//	00  COBS(payload, CRC)  00
//	data payload:          'D'  counter:u32  tick:u32  overflow:u16  count:u16 ...   low byte first
//	announcement payload:  'A'  lines of text, "key value"
//
// decoder.go cuts blocks at the delimiters and undoes COBS (cobs.go); frame.go and announcement.go check
// the CRC (crc.go) and read the payload; sequence.go puts frames in the order of their counters and
// doubts those that do not fit their neighbours. A board that can only print sends lines of numbers
// instead: printed.go finds them by themselves.
//
// Audit and LineAudit (audit*.go) are for those who write a board's program: they hold bytes against
// PROTOCOL.md, forgive nothing, and name the slip.
package frame
