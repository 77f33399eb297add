package desk

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/settings"
)

// A number that two files have, after two computers' folders were merged, is never taken for one of them: both are
// told, and what is told is taken.
func TestOfNumber(t *testing.T) {
	t.Parallel()
	var list []garage.StoredSync
	for _, n := range []garage.Number{{N: 1, Tag: "0a1b", Shared: true}, {N: 1, Tag: "2c3d", Shared: true},
		{N: 2, Tag: "4e5f"}, {N: 7, Tag: "6a7b", Placed: true},
		{N: 8, Tag: "8c9d", Shared: true}} { // the other of number 8 is damaged
		list = append(list, garage.StoredSync{Number: n})
	}
	for typed, want := range map[string]string{"1": "1-0a1b of ", "1-2c3d": "", "2": "", "2-4e5f": "", "3": "no record",
		"x": "no record", "": "no record", "1-4e5f": "no record",
		"8": "number 8 is that of more than one file: say 8-8c9d of ",
		"7": "was saved by an earlier version, which gave no numbers: say 7-6a7b of ", "5-6a7b": ""} {
		t.Run(typed, func(t *testing.T) {
			one, err := OfNumber(list, typed, "record", "evendraw history")
			switch {
			case want == "" && err != nil:
				t.Error(err)
			case want == "" && !strings.HasSuffix(typed, one.Number.Tag) && typed != one.Number.String():
				t.Errorf("it is %v", one.Number)
			case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
				t.Errorf("%v, want %q", err, want)
			}
		})
	}
}

// Where a bike's only record is damaged, the newest is that one: it isn't said that there is none.
func TestADamagedRecordAloneIsTold(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	set := &settings.Settings{Garage: g, Bike: &bike}
	if _, err := RecordNamed(set, ""); err == nil || !strings.Contains(err.Error(), "no record") {
		t.Errorf("without any: %v", err)
	}
	p, err := g.BikePaths("twin")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(p.Syncs, 0o700); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(p.Syncs, "20260301T080000.000Z-1-0a1b.level")
	if err := os.WriteFile(file, []byte("torn"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"", "1", "1-0a1b", "twin:"} {
		var damaged *garage.Error
		if _, err := RecordNamed(set, name); !errors.As(err, &damaged) || damaged.Path != file {
			t.Errorf("%q: %v", name, err)
		}
	}
}
