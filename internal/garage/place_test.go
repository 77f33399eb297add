package garage

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

func TestPlace(t *testing.T) {
	t.Parallel()
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	dir := filepath.Join(t.TempDir(), "new")
	g := open(dir, func() time.Time { return now })
	if p, ok := g.LoadPlace(); ok {
		t.Errorf("a place in an empty garage: %+v", p)
	}
	for _, step := range []string{"zero", "level"} {
		if err := g.SavePlace("old \x1bfour", step); err != nil {
			t.Fatal(err)
		}
	}
	if p, ok := g.LoadPlace(); !ok || p.Step != "level" || p.Bike != "old .four" || !p.Time.Equal(now) {
		t.Errorf("%+v %v", p, ok)
	}
	for _, text := range []string{"", "{", `{"format":2,"step":"level"}`, "\x00"} {
		t.Run(strconv.Quote(text), func(t *testing.T) {
			must(t, os.WriteFile(filepath.Join(dir, placeFile), []byte(text), 0o644))
			if p, ok := g.LoadPlace(); ok {
				t.Errorf("read as %+v", p)
			}
		})
	}
}
