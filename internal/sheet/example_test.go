package sheet_test

import (
	"bytes"
	"fmt"
	"os"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sheet"
)

// A record is made into a page that a browser prints on one sheet of A4.
func ExamplePage() {
	reading := func(a, b garage.NullKPa) *garage.RecordReading {
		return &garage.RecordReading{RPM: 1100, SpreadKPa: max(a, b) - min(a, b),
			Cylinders: []garage.RecordCylinder{{Cylinder: 1, DrawKPa: a, State: "ok"},
				{Cylinder: 2, DrawKPa: b, State: "ok"}}}
	}
	p := sheet.Page{Record: &garage.SyncRecord{Bike: "invented twin", Before: reading(24, 27),
		After: reading(25.4, 25.6)},
		Unit: pressure.Kilopascal}
	var page bytes.Buffer
	if err := p.HTML(&page); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	fmt.Println(bytes.Contains(page.Bytes(), []byte("invented twin")), bytes.Contains(page.Bytes(), []byte("<svg")))
	// Output:
	// true true
}
