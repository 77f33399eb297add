package desk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// RecordNamed returns a record of a bike: by its number in history, the newest without; by BIKE:NUMBER; or by its file.
func RecordNamed(s *settings.Settings, name string) (*garage.StoredSync, error) {
	if garage.IsRecord(name) {
		rec, err := garage.LoadForChange(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, hint.NoFile(name)
		}
		return &garage.StoredSync{Path: name, Kept: rec, Number: garage.RecordNumber(name)}, err
	}
	bike := s.Bike
	if at := strings.LastIndexByte(name, ':'); at >= 0 {
		b, err := s.Garage.LoadBike(name[:at])
		if errors.Is(err, fs.ErrNotExist) {
			return nil, settings.NoBikeNamed(s.Garage, name[:at])
		} else if err != nil {
			return nil, err
		}
		bike, name = &b, name[at+1:]
	}
	records, damaged := s.Garage.ListSyncs(bike.Name)
	if name != "" && (name[0] < '0' || name[0] > '9') {
		return nil, hint.Usagef("%q is neither the number of a record nor a file; evendraw history numbers them", name)
	}
	var numbers []garage.Number
	for i := range records {
		numbers = append(numbers, records[i].Number)
	}
	for _, d := range damaged {
		numbers = append(numbers, garage.RecordNumber(d.Path))
	}
	if at := garage.Find(numbers, name) - len(records); at >= 0 {
		return nil, damaged[at]
	}
	if len(records) == 0 && len(damaged) > 0 && name == "" {
		return nil, damaged[len(damaged)-1]
	}
	if len(records) == 0 {
		none := fmt.Errorf("there is no record of %q yet", bike.Name)
		if name != "" {
			none = hint.Usage(none)
		}
		return nil, hint.With(none,
			"evendraw live saves one when the bank is level, or with s; --bike takes another bike")
	}
	one := &records[len(records)-1]
	if name != "" {
		var err error
		if one, err = OfNumber(records, name, "record", "evendraw history"); err != nil {
			return nil, err
		}
	}
	rec, err := garage.LoadForChange(one.Path)
	rec.Bike = bike.Name // it may have been renamed since
	return &garage.StoredSync{Path: one.Path, Kept: rec, Number: one.Number, By: one.By}, err
}

// OfNumber returns the one of a list that goes by a typed number. What says what is listed, and verb lists it. Where
// two have that number, as after the folders of two laptops were merged, the error tells which they are.
func OfNumber[T garage.Numbered](list []garage.Stored[T], typed, what, verb string) (*garage.Stored[T], error) {
	var names []string
	var numbers []garage.Number
	placed := false
	for i := range list {
		n, at := list[i].Filed()
		numbers = append(numbers, n)
		if n.MayMean(typed) {
			names, placed = append(names, n.String()+" of "+plain.Minute(at)), n.Placed
		}
	}
	if at := garage.Find(numbers, typed); at >= 0 {
		return &list[at], nil
	}
	switch {
	case len(names) == 0:
		return nil, hint.Usagef("there is no %s %q; %s numbers them", what, typed, verb)
	case len(names) == 1 && !placed:
		return nil, hint.Usagef("number %s is that of more than one file: say %s", typed, names[0])
	case len(names) == 1:
		return nil, hint.Usagef("the %s at place %s was saved by an earlier version, which gave no numbers: say %s",
			what, typed, names[0])
	}
	return nil, hint.Usagef("number %s is that of more than one %s, from two computers or of one whose disk was "+
		"full: say %s", typed, what, strings.Join(names, ", or "))
}

// Comparison is two readings with their names.
type Comparison struct {
	From, To         *garage.RecordReading
	FromName, ToName string
	Unit             pressure.Unit // of the bike of the first
}

// Compare returns how one record began and ended, or how two ended. Names are as RecordNamed takes them;
// other is "" for one record.
func Compare(s *settings.Settings, name, other string) (*Comparison, error) {
	one, err := RecordNamed(s, name)
	if err != nil {
		return nil, err
	}
	if other == "" {
		if one.Kept.Before == nil || one.Kept.After == nil {
			return nil, fmt.Errorf("this record has no reading from before, or none from after")
		}
		zeroed := tell.NotZeroed(&one.Kept, ", ")
		return &Comparison{one.Kept.Before, one.Kept.After, "before" + zeroed, "after" + zeroed,
			s.UnitOf(&one.Kept)}, nil
	}
	two, err := RecordNamed(s, other)
	if err != nil {
		return nil, err
	}
	if one.Kept.After == nil || two.Kept.After == nil {
		return nil, fmt.Errorf("one of the records has no reading from after")
	}
	title := func(s *garage.StoredSync) string {
		day := plain.Minute(s.Kept.Time) + tell.NotZeroed(&s.Kept, ", ")
		if one.Kept.Bike == two.Kept.Bike {
			return day
		}
		return s.Kept.Bike + ", " + day
	}
	from, to := title(one), title(two)
	if from == to { // of one minute: as they were asked for
		from, to = from+", "+name, to+", "+other
	}
	return &Comparison{one.Kept.After, two.Kept.After, from, to, s.UnitOf(&one.Kept)}, nil
}

// AllRecords are those of all bikes, or of the one that was named, by time; what can't be read is told, and is
// the error of records that are not all there.
func AllRecords(s *settings.Settings, errOut io.Writer) (all []garage.StoredSync, leftOut error) {
	var damaged []*garage.Error
	if !s.Named {
		all, damaged = s.Garage.AllSyncs()
	} else {
		all, damaged = s.Garage.ListSyncs(s.Bike.Name)
	}
	hint.ReportAll(errOut, damaged)
	if len(all)+len(damaged) == 0 {
		fmt.Fprintln(errOut, "no records yet")
	}
	slices.SortStableFunc(all, func(a, b garage.StoredSync) int { return a.Kept.Time.Compare(b.Kept.Time) })
	return all, garage.LeftOut(damaged)
}
