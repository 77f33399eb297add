package capture

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"testing"
)

// BenchmarkTable reads a table of kPa, a row of a four at a time.
func BenchmarkTable(b *testing.B) {
	const rows = 60000
	var text bytes.Buffer
	text.WriteString("t_us,kpa0,kpa1,kpa2,kpa3\n")
	for i := range rows {
		v := 80 + 20*math.Sin(float64(i)/20)
		fmt.Fprintf(&text, "%d,%.3f,%.3f,%.3f,%.3f\n", 1000*i, v, v+1, v+2, v+3)
	}
	b.ReportAllocs()
	for b.Loop() {
		in, err := Open(bytes.NewReader(text.Bytes()))
		if err != nil {
			b.Fatal(err)
		}
		var row Row
		for err == nil {
			err = in.Table.Read(&row)
		}
		if err != io.EOF {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/rows, "ns/row")
}
