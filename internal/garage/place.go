package garage

import (
	"encoding/json"
	"evendraw/internal/plain"
	"path/filepath"
	"time"
)

// placeFile holds the Place. It is worth no checksum: what can't be read is taken for
// none.
const placeFile = "place"

// placeFormat is the format number of a Place's file.
const placeFormat = 1

// Place is where a job stood when it was last looked at, so that the next start
// goes on there.
type Place struct {
	Format int       `json:"format"` // set by SavePlace
	Bike   string    `json:"bike"`   // "" without a card
	Step   string    `json:"step"`   // the step's ID
	Time   time.Time `json:"time"`   // kept in UTC; set by SavePlace
}

// SavePlace remembers where the job with a bike stands.
func (g *Garage) SavePlace(bike, step string) error {
	p := Place{placeFormat, plain.Lines(bike), plain.Lines(step), g.now().UTC()}
	text, err := json.Marshal(&p)
	path := filepath.Join(g.dir, placeFile)
	if err == nil {
		if err = makeDirs(g.files, g.dir); err == nil {
			err = replace(g.files, path, append(text, '\n'), func() error { return nil })
		}
	}
	if err != nil {
		return notSaved(path, err)
	}
	return nil
}

// LoadPlace returns the Place remembered last; ok is false when there is none, or
// none that this program can read.
func (g *Garage) LoadPlace() (p Place, ok bool) {
	text, err := readFile(filepath.Join(g.dir, placeFile))
	if err != nil || json.Unmarshal(text, &p) != nil || p.Format != placeFormat {
		return Place{}, false
	}
	p.Bike, p.Step = plain.Lines(p.Bike), plain.Lines(p.Step)
	return p, true
}
