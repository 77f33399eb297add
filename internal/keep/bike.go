package keep

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/practice"
	"evendraw/internal/session"
)

// bikeFor returns the name of the bike that the record of a snapshot belongs to. Without a card
// one is made, so that nothing is lost.
func (k *Keeper) bikeFor(snap *session.Snapshot) (string, error) {
	name, b := "Bike without a name", &snap.Bank
	g := k.garage()
	switch {
	case k.opt.Own == Practice && k.card != "":
		name = k.card
	case k.opt.Own == Practice:
		name = g.FreeName(practice.CardName(k.begun, k.engine()))
	case k.set.Bike != nil && k.elsewhere == nil:
		return k.set.Bike.Name, nil
	case k.set.Bike != nil:
		err := g.NewBike(k.set.Bike)
		if errors.Is(err, fs.ErrExist) {
			err = nil
		}
		return k.set.Bike.Name, err
	}
	if old, err := g.LoadBike(name); err == nil && !old.Bank.SameScrews(b) {
		name = fmt.Sprintf("%s, %d cylinders, screws %s", name, b.Cylinders,
			strings.Join(b.ScrewNames(bank.AllScrews), " "))
	}
	if _, err := g.LoadBike(name); err == nil {
		return name, nil
	}
	card := garage.DefaultBike(name, b.Cylinders)
	card.Bank, card.Unit = *b, k.unit
	card.Reference = cmp.Or(snap.Config.Reference, card.Reference)
	card.AimKPa, card.LimitKPa = k.set.Limits()
	card.IdleRPMLow, card.IdleRPMHigh = snap.Config.Idle.LowRPM, snap.Config.Idle.HighRPM
	if k.opt.Own == Practice {
		card.Note = "Records of a practice engine, invented for one run; no real bike."
	}
	err := g.NewBike(&card)
	if err == nil {
		k.card = name
	}
	return name, err
}

// learned keeps what was learned of the screws, and of the user's hand at a real bike.
func (k *Keeper) learned(bike string, snap *session.Snapshot) error {
	effects := map[string]float64{}
	for i, e := range snap.Effects {
		if e != 0 {
			effects[snap.Bank.Screws[i].Name] = e
		}
	}
	var err error
	if len(effects) > 0 {
		err = k.garage().SaveEffects(bike, effects)
	}
	if i := &snap.Config.Idle; err == nil && k.opt.Own == Practice && i.HighRPM > 0 {
		err = k.garage().SaveIdle(bike, i.LowRPM, i.HighRPM)
	}
	if h := &snap.Hand; err == nil && k.opt.Own == Bike && h.Learned() {
		err = k.garage().SaveHand(bike, h.Lag, h.RunOn)
	}
	if err != nil {
		return fmt.Errorf("the record is saved, but not what was learned of screws and hand: %w", err)
	}
	return nil
}
