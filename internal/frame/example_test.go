package frame_test

import (
	"bytes"
	"fmt"
	"strings"

	"evendraw/internal/frame"
)

// A board announces itself and sends two frames; one in between is lost.
func ExampleReader() {
	a := &frame.Announcement{Protocol: frame.Version, Model: "shed", Serial: "A1", Boot: "1", Program: "1.0",
		Layout: frame.Layout(2),
		Bits:   10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000,
		Channels: []frame.Channel{{Role: frame.Pressure, Unit: "kPa"},
			{Role: frame.Pressure, Unit: "kPa", DelayUs: 112}}}
	line := frame.AppendAnnouncement(nil, a)
	for _, n := range []uint32{0, 1, 3} {
		line = frame.AppendData(line, frame.Seed(a.Layout),
			&frame.Frame{Counter: n, Tick: n * 1000, N: 2, Counts: [frame.MaxChannels]uint16{600, 590}})
	}
	r := frame.NewReader(bytes.NewReader(line))
	for {
		f, err := r.Read()
		if err != nil {
			break
		}
		fmt.Println(f.Tick, f.Counts[:f.N], "lost before it:", f.Lost)
	}
	// Output:
	// 0 [600 590] lost before it: 0
	// 1000 [600 590] lost before it: 0
	// 3000 [600 590] lost before it: 1
}

// A board that can only print is known by its lines.
func ExampleDecoder_printed() {
	var d frame.Decoder
	d.Feed([]byte("# rate 200\n" + string(bytes.Repeat([]byte("512,498,1003,501\r\n"), 66))))
	for f, ok := d.Next(); ok; f, ok = d.Next() {
		fmt.Println(f.Tick, f.Counts[:f.N])
	}
	fmt.Println(d.Board().Model, d.Board().Rate)
	// Output:
	// 0 [512 498 1003 501]
	// 5000 [512 498 1003 501]
	// printed lines 200
}

// An author of a board's program sent the CRC's bytes in the wrong order.
func ExampleAudit() {
	a := &frame.Announcement{Protocol: frame.Version, Model: "shed", Serial: "A1", Boot: "1", Program: "1.0",
		Layout: frame.Layout(1),
		Bits:   10, ReferenceMV: 5000, Rate: 1000, Channels: []frame.Channel{{Role: frame.Pressure, Unit: "kPa"}}}
	line := frame.AppendAnnouncement(nil, a)
	line = frame.AppendData(line, frame.Seed(a.Layout), &frame.Frame{N: 1})
	n := len(line)
	line[n-3], line[n-2] = line[n-2], line[n-3]
	var audit frame.Audit
	audit.Push(line)
	audit.Finish()
	for _, f := range audit.Findings() {
		_, why, _ := strings.Cut(f.Problem, "; ")
		fmt.Println(f.Rule, "at byte", f.At, "of", n)
		fmt.Println(why)
	}
	// Output:
	// crc at byte 192 of 195
	// it is sent high byte first; low byte first is asked for
}
