package job

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/sheet"
	"evendraw/internal/store"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// RecordNamed returns a record of a bike: by its number in history, the newest without; by BIKE:NUMBER; or
// by its file.
func (s *Settings) RecordNamed(name string) (*garage.StoredSync, error) {
	if garage.IsRecord(name) {
		rec, err := garage.LoadSync(name)
		return &garage.StoredSync{Path: name, Record: rec}, err
	}
	bike := s.Bike
	if at := strings.LastIndexByte(name, ':'); at >= 0 {
		b, err := s.Garage.LoadBike(name[:at])
		if errors.Is(err, fs.ErrNotExist) {
			return nil, noBikeNamed(s.Garage, name[:at])
		} else if err != nil {
			return nil, err
		}
		bike, name = &b, name[at+1:]
	}
	heads, _ := s.Garage.ListHeads(bike.Name)
	n, err := strconv.Atoi(name)
	if name != "" && err != nil {
		return nil, Usagef("%q is neither the number of a record nor a file; evendraw history numbers them", name)
	}
	if len(heads) == 0 {
		return nil, &Hinted{fmt.Errorf("there is no record of %q yet", bike.Name),
			"evendraw live saves one when the bank is level, or with s"}
	}
	if name == "" {
		n = len(heads)
	}
	if n < 1 || n > len(heads) {
		return nil, Usagef("%q is none of the records 1 to %d of %q; evendraw history numbers them", name,
			len(heads), bike.Name)
	}
	path := heads[n-1].Path
	rec, err := garage.LoadForChange(path)
	rec.Bike = bike.Name // it may have been renamed since
	return &garage.StoredSync{Path: path, Record: rec}, err
}

// Page is a record's page, with the bench card that held when it was made.
func (s *Settings) Page(rec *garage.StoredSync) *sheet.Page {
	p := &sheet.Page{Record: &rec.Record, Unit: s.Unit(), Verdict: tell.VerdictWords(rec.Record.Verdict),
		Settings: map[string]string{}, Cautions: tell.SheetCautions(),
		Turns: tell.TurnedLines(&rec.Record), Doubts: tell.Doubts(&rec.Record)}
	if r := rec.Record.After; r != nil {
		p.LeftOut = view.LeftOut(r.LeftOut())
	}
	for _, field := range garage.Fields() {
		p.Settings[field] = view.SettingName(field)
	}
	sheets, _ := s.Garage.ListBench(rec.Record.Bike)
	for i := range sheets {
		if !sheets[i].Card.Time.After(rec.Record.Time) {
			p.Bench = &sheets[i].Card
		}
	}
	return p
}

// Comparison is two readings with their names.
type Comparison struct {
	From, To         *garage.RecordReading
	FromName, ToName string
}

// Compare returns how one record began and ended, or how two ended. Names are as RecordNamed takes them;
// other is "" for one record.
func (s *Settings) Compare(name, other string) (*Comparison, error) {
	one, err := s.RecordNamed(name)
	if err != nil {
		return nil, err
	}
	if other == "" {
		if one.Record.Before == nil || one.Record.After == nil {
			return nil, fmt.Errorf("this record has no reading from before, or none from after")
		}
		return &Comparison{one.Record.Before, one.Record.After, "before", "after"}, nil
	}
	two, err := s.RecordNamed(other)
	if err != nil {
		return nil, err
	}
	if one.Record.After == nil || two.Record.After == nil {
		return nil, fmt.Errorf("one of the records has no reading from after")
	}
	title := func(s *garage.StoredSync) string {
		day := plain.Minute(s.Record.Time)
		if one.Record.Bike == two.Record.Bike {
			return day
		}
		return s.Record.Bike + ", " + day
	}
	return &Comparison{one.Record.After, two.Record.After, title(one), title(two)}, nil
}

// AllRecords are those of all bikes, or of the one that was named, by time; what is damaged is
// told.
func (s *Settings) AllRecords(errOut io.Writer) []garage.StoredSync {
	var all []garage.StoredSync
	var damaged []*garage.Error
	if !s.Named {
		all, damaged = s.Garage.AllSyncs()
	} else {
		all, damaged = s.Garage.ListSyncs(s.Bike.Name)
	}
	for _, d := range damaged {
		Report(errOut, d)
	}
	slices.SortStableFunc(all, func(a, b garage.StoredSync) int { return a.Record.Time.Compare(b.Record.Time) })
	return all
}

// SheetName is the name of a record's sheet, without what keeps it from that of another.
func SheetName(r *garage.SyncRecord) string { return plain.Day(r.Time) + " sheet" }

// FreeName returns the path of a file in a folder that is not there yet: name with the ending, or name 2, name 3.
func FreeName(dir, name, ending string) string {
	path := filepath.Join(dir, name+ending)
	for n := 2; ; n++ {
		if _, err := os.Lstat(path); err != nil {
			return path
		}
		path = filepath.Join(dir, fmt.Sprintf("%s %d%s", name, n, ending))
	}
}

// WriteFile writes a file that the user has named, whole or not at all; one that is there only where that is wanted.
func WriteFile(name string, overwrite bool, make func(io.Writer) error) error {
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() && !overwrite {
		return &Hinted{fmt.Errorf("%s is there already, and was left as it is", name),
			"give another name, or --overwrite to replace it"}
	}
	return store.New().Write(name, make)
}
