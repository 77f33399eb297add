package job

import (
	"slices"
	"strings"
	"testing"

	"evendraw/internal/cycle"
	"evendraw/internal/invented"
	"evendraw/internal/keep"
	"evendraw/internal/settings"
)

// A lock nut that nobody has confirmed to be tight is in the record, also where the reading that stands in it is an
// older one, in what is said of it, and in a line as the run is left; a virtual hand's counts as tight by what is seen.
func TestANutThatIsNotConfirmedIsKept(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name         string
		loose, taken uint // of the newest reading
		seen, told   bool
	}{{"loose", 1, 0, false, true}, {"taken as tight", 0, 1, false, true}, {"tight", 0, 0, false, false},
		{"loose, by a virtual hand", 1, 0, true, true}, {"seen tight, by a virtual hand", 0, 1, true, false}} {
		g, bike := invented.Twin(t)
		var told strings.Builder
		set := &settings.Settings{World: &settings.World{}, Garage: g, Bike: &bike}
		l := newLive(set, &LiveOptions{}, nil, settings.Streams{Err: &told})
		l.keeper = keep.New(set, keep.Options{Own: keep.Bike, NutsSeen: row.seen})
		if err := l.keeper.Update(invented.IdlingTwin()); err != nil {
			t.Fatal(err)
		}
		moving := invented.IdlingTwin() // whose own reading can't stand in a record
		moving.Reading.Cylinders[0].State = cycle.NoPulse
		moving.Reading.Loose, moving.Reading.NutsUnsaid = row.loose, row.taken
		if _, err := l.keeper.Save(moving); err != nil {
			t.Fatal(err)
		}
		all, _ := g.ListSyncs(bike.Name)
		const words = "lock nut of 1-2 not confirmed tight"
		if got := all[0].Kept.NutsUnconfirmed; slices.Equal(got, []string{"1-2"}) != row.told ||
			strings.Contains(l.keeper.What(), words) != row.told || len(all[0].Kept.After.Cylinders) != 2 {
			t.Errorf("%s: kept %v, said %q", row.name, got, l.keeper.What())
		}
		l.finish(nil)
		if strings.Contains(told.String(), words+": hold the screw still") != row.told {
			t.Errorf("%s: left with %q", row.name, told.String())
		}
	}
}
