package exhaust_test

import (
	"fmt"

	"evendraw/internal/exhaust"
)

// An analyser's published reading: lambda 1.03.
func ExampleGas() {
	lambda, err := exhaust.Gas{CO: 0.16, CO2: 15.24, O2: 0.86, HCppm: 72}.Lambda(exhaust.Petrol)
	fmt.Printf("%.2f, an air/fuel ratio of %.1f %v\n", lambda, 14.7*lambda, err)
	// Output:
	// 1.03, an air/fuel ratio of 15.1 <nil>
}
