package job

import (
	"fmt"
	"io"
	"os"

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
