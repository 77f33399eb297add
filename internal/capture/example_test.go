package capture_test

import (
	"fmt"
	"strings"

	"evendraw/internal/capture"
)

// A table of another logger, in volts; one row is missing.
func ExampleOpen() {
	in, err := capture.Open(strings.NewReader("t_us,v0,v1\n0,3.1,3.0\n1000,3.2,3.1\n2000,3.1,3.0\n5000,3.0,2.9\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(in.Table.Quantity, in.Table.Channels)
	var row capture.Row
	for in.Table.Read(&row) == nil {
		fmt.Println(row.Time, row.Values, row.Lost)
	}
	// Output:
	// v 2
	// 0 [3.1 3] 0
	// 0.001 [3.2 3.1] 0
	// 0.002 [3.1 3] 0
	// 0.005 [3 2.9] 2
}
