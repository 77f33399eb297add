package settings

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
)

// PracticeBike returns the practice bike of a name, whose story is told.
func (s *Settings) PracticeBike(o practice.Options, std *Streams) (*practice.Bike, error) {
	if err := CheckPractice(o.Name); err != nil {
		return nil, err
	}
	if s.Named && o.Name != practice.Fresh {
		return nil, hint.Usagef("--bike does not go with the practice bike %s, which has a bank of its own; "+
			"--practice alone practises on the bank of %s", o.Name, s.Bike.Name)
	}
	p := practice.New(s.PracticeOptions(o))
	fmt.Fprint(std.Err, p.Story())
	return p, nil
}

// PracticeRun returns the practice bike of a run, and says what it takes of the card that was named, and what else
// holds. It refuses a card whose idle the practice engine can't reach.
func (s *Settings) PracticeRun(o practice.Options, std *Streams, also string) (*practice.Bike, error) {
	p, err := s.PracticeBike(o, std)
	if err != nil || !s.Named {
		return p, err
	}
	if err := practice.CanIdle(s.Bike); err != nil {
		return nil, hint.Usage(err)
	}
	std.Warn(fmt.Sprintf("practice with the bank, idle speed, limits and unit of %s; what its screws do is "+
		"the practice engine's own, and %s", s.Bike.Name, also))
	return p, nil
}

// CheckPractice refuses a name that no practice bike has.
func CheckPractice(name string) error {
	if !practice.Known(name) {
		if near := plain.IsMeant(name, practice.Names()); near != "" {
			return hint.Usagef("no practice bike %q%s", name, near)
		}
		return hint.Usagef("no practice bike %q; there are:\n%s", name, strings.TrimSuffix(practice.Stories(), "\n"))
	}
	return nil
}

// PracticeOptions fills in what the settings say.
func (s *Settings) PracticeOptions(o practice.Options) practice.Options {
	o.Seed = rand.Uint64()
	if s.World.Seed != nil {
		o.Seed = s.World.Seed()
	}
	o.Aim, _ = s.Limits()
	if s.Bike != nil && s.Named {
		o.Bank, o.Like = &s.Bike.Bank, s.Bike
	}
	return o
}
