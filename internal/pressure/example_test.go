package pressure_test

import (
	"fmt"

	"evendraw/internal/pressure"
)

// A draw of 20 kPa in the unit of older manuals, and the air pressure to expect at
// 1000 m by the US Standard Atmosphere (published: 89.88 kPa).
func Example() {
	mmHg, _ := pressure.ParseUnit("mmHg")
	fmt.Println(mmHg.Format(20))
	fmt.Printf("%.2f kPa\n", float64(pressure.StandardAtmosphere(1000)))
	// Output:
	// 150
	// 89.88 kPa
}
