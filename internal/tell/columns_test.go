package tell

import (
	"strings"
	"testing"

	"evendraw/internal/garage"
)

// A long name or value widens its column: what stands below one another belongs together.
func TestColumnsHold(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	bikes := []garage.Bike{garage.DefaultBike("a", 2), garage.DefaultBike("practice-engine 2026-11-28 23-59-38", 4)}
	if err := Bikes(&out, bikes, "a", false); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out.String(), "\n")
	if strings.Index(lines[1], "2 cylinders") != strings.Index(lines[2], "4 cylinders") {
		t.Error(out.String())
	}
	card := garage.BenchCard{Moment: garage.BenchApart, Carburettors: []garage.Carburettor{
		{Cylinder: 1, MainJet: "stamped 112.5 left"}, {Cylinder: 2, MainJet: "110"}}}
	table := benchLines(&card)
	for _, row := range table {
		if strings.HasPrefix(row, "main jet") && strings.Index(table[1], "2") != strings.Index(row, "110") {
			t.Error(strings.Join(table, "\n"))
		}
	}
}

// Remarks of a bench card break between words, at 80 columns.
func TestBenchRemarksBreakBetweenWords(t *testing.T) {
	t.Parallel()
	remark := strings.TrimSpace(strings.Repeat("float needle worn ", 11))
	card := garage.BenchCard{Carburettors: []garage.Carburettor{{Cylinder: 1, Note: remark}}, ToOrder: remark}
	text := strings.Join(benchLines(&card), "\n")
	for line := range strings.SplitSeq(text, "\n") {
		if len(line) > textColumns {
			t.Errorf("%d columns: %s", len(line), line)
		}
	}
	if strings.Count(strings.Join(strings.Fields(text), " "), remark) != 2 {
		t.Errorf("a word is broken or lost:\n%s", text)
	}
}
