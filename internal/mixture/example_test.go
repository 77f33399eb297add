package mixture_test

import (
	"fmt"

	"evendraw/internal/mixture"
)

// An analyser's published reading: lambda 1.03.
func ExampleGas() {
	lambda, err := mixture.Gas{CO: 0.16, CO2: 15.24, O2: 0.86, HCppm: 72}.Lambda(mixture.Petrol)
	fmt.Printf("%.2f, an air/fuel ratio of %.1f %v\n", lambda, mixture.AFR(lambda, 14.7), err)
	// Output:
	// 1.03, an air/fuel ratio of 15.1 <nil>
}
