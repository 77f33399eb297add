package capture

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"
)

func TestCaptureRoundTrip(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	if err := WriteHead(&b, Head{{"board", "T1"}, {"note", "two\nlines"}}); err != nil {
		t.Fatal(err)
	}
	body := []byte{0, 1, 2, '#', '\n', 0, 255}
	b.Write(body)
	in, err := Open(iotest.OneByteReader(&b))
	if err != nil {
		t.Fatal(err)
	}
	if in.Head.Get("board") != "T1" || in.Head.Get("note") != "two lines" || in.Head.Get("none") != "" {
		t.Errorf("head %q", in.Head)
	}
	if got, _ := io.ReadAll(in.Bytes); !bytes.Equal(got, body) {
		t.Errorf("body % X", got)
	}
}

func TestBoardBytesWithoutAHead(t *testing.T) {
	t.Parallel()
	in, err := Open(strings.NewReader("\x00\x03abc\x00"))
	if err != nil || in.Bytes == nil || in.Table != nil {
		t.Fatalf("%+v, %v", in, err)
	}
}

func readTable(t *testing.T, text string) ([]Row, *Table, error) {
	t.Helper()
	in, err := Open(strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	var rows []Row
	for {
		var r Row
		err := in.Table.Read(&r)
		if err == io.EOF {
			return rows, in.Table, nil
		} else if err != nil {
			return rows, in.Table, err
		}
		rows = append(rows, r)
	}
}

func TestTable(t *testing.T) {
	t.Parallel()
	rows, table, err := readTable(t, "\xEF\xBB\xBFt_us,kpa0, kpa1\r\n4294966000,90.5,80\r\n4294967000, 91 ,81\n\n"+
		"704,92,82\n704,0,0\n1704,93,83\n5704,94,84\n")
	if err != nil {
		t.Fatal(err)
	}
	if table.Quantity != KPa || table.Channels != 2 {
		t.Fatalf("%s of %d channels", table.Quantity, table.Channels)
	}
	for i, want := range []struct {
		time, value float64
		lost        uint32
	}{{0, 90.5, 0}, {0.001, 91, 0}, {0.002, 92, 0}, {0.003, 93, 0}, {0.007, 94, 3}} {
		if r := rows[i]; math.Abs(r.Time-want.time) > 1e-9 || r.Values[0] != want.value || r.Lost != want.lost {
			t.Errorf("row %d: %+v, want %+v", i, r, want)
		}
	}
	if s := table.Stats(); s != (Stats{Rows: 5, Lost: 3, Gaps: 1, Duplicates: 1}) {
		t.Errorf("%+v", s)
	}
}

// As a spreadsheet writes it where the comma is the decimal one.
func TestTableWithSemicolons(t *testing.T) {
	t.Parallel()
	for _, between := range []string{";", "\t"} {
		text := strings.ReplaceAll("t_us;kpa0;kpa1\r\n0;90,5;80\r\n1000; 91 ;81,25\n2000;92.5;82\n", ";", between)
		rows, table, err := readTable(t, "# evendraw table 1\n# zeroed: true\n#\n"+text)
		if err != nil || table.Channels != 2 || len(rows) != 3 {
			t.Fatalf("%q: %v, %d rows", between, err, len(rows))
		}
		for i, want := range [][2]float64{{90.5, 80}, {91, 81.25}, {92.5, 82}} {
			if r := rows[i]; r.Values[0] != want[0] || r.Values[1] != want[1] {
				t.Errorf("%q: row %d: %v", between, i, r.Values)
			}
		}
	}
}

// As a spreadsheet writes it that puts quotes around texts, or around all.
func TestTableWithQuotes(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"\"t_us\",\"kpa0\",\"kpa1\"\r\n0,90.5,80\r\n1000,91,81.25\r\n",
		"\"t_us\",\"kpa0\",\"kpa1\"\n\"0\",\"90,5\",\"80\"\n\"1000\",\"91,0\",\"81,25\"\n",
		"\xEF\xBB\xBF\"t_us\";\"kpa0\";\"kpa1\"\n0;\"90,5\";80\n1000;91;\"81,25\"\n",
		"# evendraw table 1\n# zeroed: true\n#\n\"t_us\"\tkpa0\t\"kpa1\"\n0\t90.5\t80\n1000\t91\t\"81,25\"\n"} {
		rows, table, err := readTable(t, text)
		if err != nil || table.Channels != 2 || len(rows) != 2 {
			t.Fatalf("%q: %v, %d rows", text, err, len(rows))
		}
		if rows[0].Values[0] != 90.5 || rows[1].Values[1] != 81.25 {
			t.Errorf("%q: %v, %v", text, rows[0].Values, rows[1].Values)
		}
	}
}

func TestCountsBecomeFrames(t *testing.T) {
	t.Parallel()
	rows, table, err := readTable(t, "t_us,c0,c1\n0,1,2\n2000,3,1023\n")
	if err != nil {
		t.Fatal(err)
	}
	f := rows[1].Frame()
	if f.N != 2 || f.Counts[1] != 1023 || f.Tick != 2000 {
		t.Errorf("%+v", f)
	}
	if a := table.Board(10); a.Rate != 500 || len(a.Channels) != 2 || a.Readable() != nil {
		t.Errorf("%+v", a)
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "empty"},
		{"a picture", "\x89PNG\r\n\x1a\n....................", "byte 1"},
		{"newer", "# evendraw capture 2\n#\n", "newer"},
		{"endless head", "# evendraw capture 1\n# a: b\n", "line 3"},
		{"bad head", "# evendraw capture 1\nnothing\n#\n", "line 2"},
		{"no channels", "t_us\n1\n2\n", "line 1"},
		{"nine channels", "t_us,c0,c1,c2,c3,c4,c5,c6,c7,c8\n", "line 1"},
		{"mixed", "t_us,c0,v1\n", "column 3"},
		{"wrong number", "t_us,c1\n", "column 2"},
		{"newer table", "# evendraw table 2\n#\nt_us,c0\n1,2\n", "newer"},
		{"head and rows", "# evendraw table 1\n# a: b\n#\nt_us,v0\n1,2\n2,x\n", `line 6: column 2: "x"`},
		{"semicolons", "t_us;v0;v1\n1;2,5;3\n2;2,5\n", "line 3"},
		{"open quote", "t_us,v0\n1,2\n2,\"3\n", "line 3: a quote"},
		{"one row", "t_us,c0\n1,2\n", "two rows"},
		{"not a number", "t_us,v0\n1,2\n2,x\n", `line 3: column 2: "x"`},
		{"not finite", "t_us,v0\n1,2\n2,NaN\n", "line 3"},
		{"short row", "t_us,v0,v1\n1,2,3\n2,3\n", "line 3"},
		{"long row", "t_us,v0\n1,2\n2,3,4\n", "line 3"},
		{"count too large", "t_us,c0\n1,2\n2,70000\n", "line 3"},
		{"count not whole", "t_us,c0\n1,2\n2,1.5\n", "line 3"},
		{"line too long", "t_us,v0\n1," + strings.Repeat("1", 1<<17) + "\n", "too long"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := readTable(t, c.text)
			var e *Error
			if !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want one that says %q", err, c.want)
			}
		})
	}
}

func FuzzOpen(f *testing.F) {
	f.Add([]byte("# evendraw capture 1\n# a: b\n#\n\x00abc\x00"))
	f.Add([]byte("t_us,kpa0\n1,2\n2,3\n3,4\n"))
	f.Fuzz(func(t *testing.T, s []byte) {
		in, err := Open(bytes.NewReader(s))
		if err != nil {
			return
		}
		if in.Table == nil {
			io.ReadAll(in.Bytes)
			return
		}
		last := -1.0
		for {
			var r Row
			if in.Table.Read(&r) != nil {
				return
			}
			if !(r.Time > last) {
				t.Fatalf("time runs from %v to %v", last, r.Time)
			}
			last = r.Time
		}
	})
}

// Tables in other units than the head says are refused, and the unit named.
func TestImpossibleTables(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, head, row, want string }{
		{"kPa", "kpa", "1000 101.3", ""},
		{"deep vacuum", "kpa", "1000 5", ""},
		{"mbar", "kpa", "1000 697.5", "it looks like mbar"},
		{"Pa", "kpa", "1000 69750", "it looks like Pa"},
		{"bar", "kpa", "1000 0.6975", "it looks like bar"},
		{"gauge", "kpa", "1000 -31.4", "it looks like pressure relative to the air"},
		{"gauge of a standing engine", "kpa", "1000 0", "it looks like pressure relative to the air"},
		{"nothing known", "kpa", "1000 3000", "no absolute pressure in kPa"},
		{"at the top", "kpa", "1000 130", ""},
		{"above the top", "kpa", "1000 130.1", "no absolute pressure in kPa"},
		{"below the bottom", "kpa", "1000 4.9", "no absolute pressure in kPa"},
		{"counts have no unit", "c", "1000 697", ""},
		{"slowest", "v", "20000 3", ""},
		{"fastest", "v", "200 3", ""},
		{"too slow", "v", "21000 3", "47.619 a second"},
		{"too fast", "v", "190 3", "5263.16 a second"},
		{"seconds", "v", "0.001 3", "it looks like seconds"},
		{"milliseconds", "v", "1 3", "it looks like milliseconds"},
		{"nanoseconds", "v", "1000000 3", "it looks like nanoseconds"},
		{"minutes", "v", "60000000 3", "can be read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var step, value float64
			fmt.Sscan(c.row, &step, &value)
			text := "t_us," + c.head + "0\n"
			for i := range 100 {
				text += fmt.Sprintf("%g,%g\n", float64(i)*step, value)
			}
			_, err := Open(strings.NewReader(text))
			var e *Error
			if c.want == "" && err != nil ||
				c.want != "" && (!errors.As(err, &e) || !strings.Contains(e.Error(), c.want)) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
	// Far behind the first rows as well.
	text := "t_us,kpa0\n"
	for i := range 200 {
		text += fmt.Sprintf("%d,%g\n", i*1000, 100+2*float64(i/199)*float64(i))
	}
	in, err := Open(strings.NewReader(text))
	var row Row
	for err == nil {
		err = in.Table.Read(&row)
	}
	if !strings.Contains(err.Error(), "line 201") || !strings.Contains(err.Error(), "mbar") {
		t.Errorf("%v", err)
	}
}
