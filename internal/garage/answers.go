package garage

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/bank"
)

// What people answer to questions about a bike that is to get a card. After an error b is worth nothing; whether an
// answer fits the others CheckBike says.

// TakeCylinders makes b the usual bike of its name with that many cylinders.
func (b *Bike) TakeCylinders(text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < bank.MinCylinders || n > bank.MaxCylinders {
		return fmt.Errorf("%q is not from %d to %d", text, bank.MinCylinders, bank.MaxCylinders)
	}
	*b = DefaultBike(b.Name, n)
	return nil
}

// TakeFiringOrder takes cylinders as ParseCylinders reads them.
func (b *Bike) TakeFiringOrder(text string) (err error) {
	b.Bank.FiringOrder, err = ParseCylinders(text)
	return err
}

// TakeFiringAngles takes degrees of crank with commas between; "even" leaves what is usual.
func (b *Bike) TakeFiringAngles(text string) error {
	if text == "even" {
		return nil
	}
	b.Bank.FiringAngles = nil
	for _, s := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			return fmt.Errorf("%q is no number", s)
		}
		b.Bank.FiringAngles = append(b.Bank.FiringAngles, v)
	}
	return nil
}

// TakeScrews takes screws as ParseScrews reads them; the carburettor that none of them moves is the root.
func (b *Bike) TakeScrews(text string) (err error) {
	b.Bank.Screws, err = ParseScrews(text)
	b.Bank.Root = cmp.Or(RootOf(b.Bank.Cylinders, b.Bank.Screws), b.Bank.Root)
	return err
}

// TakeIdle takes an idle speed as ParseIdle reads it; "" and "-" are unknown.
func (b *Bike) TakeIdle(text string) (err error) {
	if text = strings.TrimSpace(text); text == "" || text == "-" {
		b.IdleRPMLow, b.IdleRPMHigh = 0, 0
		return nil
	}
	b.IdleRPMLow, b.IdleRPMHigh, err = ParseIdle(text)
	return err
}

// TakeMinutes takes for how many minutes the engine may idle.
func (b *Bike) TakeMinutes(text string) (err error) {
	b.IdlingLimitMin, err = ParseMinutes(text)
	return err
}

// TakeNuts takes whether the synchronising screws have lock nuts.
func (b *Bike) TakeNuts(text string) error {
	yes, err := SaysYes(text)
	b.Bank.NoLockNuts = !yes
	return err
}

// TakePilots takes the kind of the pilot screws; "" and "unknown" are unknown.
func (b *Bike) TakePilots(text string) error {
	b.PilotScrews = strings.TrimPrefix(strings.ToLower(text), "unknown")
	if !slices.Contains([]string{"", FuelScrews, AirScrews}, b.PilotScrews) {
		return fmt.Errorf("%q is neither fuel, air nor unknown", text)
	}
	return nil
}

// SaysYes reads yes, no, or how either begins.
func SaysYes(text string) (bool, error) {
	text = strings.ToLower(text)
	if text == "" || !strings.HasPrefix("yes", text) && !strings.HasPrefix("no", text) {
		return false, errors.New("yes or no?")
	}
	return text[0] == 'y', nil
}
