package job

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/sheet"
	"evendraw/internal/store"
)

// Page is a record's page, with the bench card that held when it was made.
func (s *Settings) Page(rec *garage.StoredSync) *sheet.Page {
	p := &sheet.Page{Record: &rec.Record, Unit: s.Unit(), Corrects: rec.Corrects()}
	sheets, _ := s.Garage.ListBench(rec.Record.Bike)
	for i := range sheets {
		if !sheets[i].Card.Time.After(rec.Record.Time) {
			p.Bench = &sheets[i].Card
		}
	}
	return p
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
	err := store.New().Write(name, make)
	if hint := placeHint(err, "; another name puts the file elsewhere"); hint != "" {
		return &Hinted{err, hint}
	}
	return err
}
