package bikeform

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// What people answer to questions about a bike that is to get a card. After an error b is worth nothing; whether an
// answer fits the others garage.CheckBike says.

// takeCylinders makes b the usual bike of its name with that many cylinders.
func takeCylinders(b *garage.Bike, text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < bank.MinCylinders || n > bank.MaxCylinders {
		return fmt.Errorf("%q is not from %d to %d", text, bank.MinCylinders, bank.MaxCylinders)
	}
	*b = garage.DefaultBike(b.Name, n)
	return nil
}

// takeFiringOrder takes cylinders as ParseCylinders reads them.
func takeFiringOrder(b *garage.Bike, text string) (err error) {
	b.Bank.FiringOrder, err = ParseCylinders(text)
	return err
}

// takeFiringAngles takes degrees of crank with commas, or semicolons, between; "even" leaves what is usual.
func takeFiringAngles(b *garage.Bike, text string) error {
	if text == "even" {
		return nil
	}
	b.Bank.FiringAngles = nil
	between := ","
	if strings.Contains(text, ";") {
		between = ";"
	}
	for _, s := range strings.Split(text, between) {
		v, err := plain.Decimal(s)
		if err != nil {
			return fmt.Errorf("%q is no number", s)
		}
		b.Bank.FiringAngles = append(b.Bank.FiringAngles, v)
	}
	return nil
}

// takeScrews takes screws as parseScrews reads them; the carburettor that none of them moves is the root.
func takeScrews(b *garage.Bike, text string) (err error) {
	b.Bank.Screws, err = parseScrews(text)
	b.Bank.Root = cmp.Or(bank.RootOf(b.Bank.Cylinders, b.Bank.Screws), b.Bank.Root)
	return err
}

// takeIdle takes an idle speed as ParseIdle reads it.
func takeIdle(b *garage.Bike, text string) (err error) {
	b.IdleRPMLow, b.IdleRPMHigh, err = ParseIdle(text)
	return err
}

// takeMinutes takes for how many minutes the engine may idle.
func takeMinutes(b *garage.Bike, text string) error {
	v, err := plain.Decimal(text)
	if err != nil || !(v >= garage.MinIdlingLimit && v <= garage.MaxIdlingLimit) {
		return fmt.Errorf("%q is not from %g to %d minutes", text, garage.MinIdlingLimit, garage.MaxIdlingLimit)
	}
	b.IdlingLimitMin = v
	return nil
}

// takeNuts takes whether the synchronising screws have lock nuts.
func takeNuts(b *garage.Bike, text string) error {
	yes, err := SaysYes(text)
	b.Bank.NoLockNuts = !yes
	return err
}

// takePilots takes the kind of the pilot screws; "" and "unknown" are unknown.
func takePilots(b *garage.Bike, text string) error {
	b.PilotScrews = strings.TrimPrefix(strings.ToLower(text), "unknown")
	if !slices.Contains([]string{"", garage.FuelScrews, garage.AirScrews}, b.PilotScrews) {
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
