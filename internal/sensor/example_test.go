package sensor_test

import (
	"fmt"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Counts of a 10-bit board become absolute pressures; a zero pass has learned that the
// second sensor reads 1.2 kPa too much.
func ExampleConverter() {
	c := sensor.NewConverter(sensor.Setup{Offsets: []pressure.KPa{0, 1.2}, Ambient: 101.3})
	c.Announce(&frame.Announcement{Protocol: frame.Version, Layout: frame.Layout(2), Bits: 10, ReferenceMV: 5000,
		Ratiometric: true, Rate: 1000,
		Channels: []frame.Channel{{Role: frame.Pressure, Unit: "kPa"}, {Role: frame.Pressure, Unit: "kPa"}}})
	s := c.Push(&frame.Frame{N: 2, Counts: [frame.MaxChannels]uint16{824, 824}})
	fmt.Printf("%.1f %.1f kPa\n", float64(s.Absolute[0]), float64(s.Absolute[1]))
	// Output:
	// 100.0 98.8 kPa
}

// A sensor that is in no catalogue is described by two points of its line.
func ExampleParseKind() {
	k, err := sensor.ParseKind("two-point 20kPa=0.79V 101.32kPa=4.00V")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f kPa at 2 V of 5 V\n", float64(k.Pressure(2.0/5)))
	// Output:
	// 50.7 kPa at 2 V of 5 V
}
