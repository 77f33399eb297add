package tell

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
)

// Whatever is changed on a card shows, so nothing that a user can set is left out.
func TestAllOfACardIsShown(t *testing.T) {
	t.Parallel()
	text := func(b *garage.Bike) string {
		var out strings.Builder
		BikeCard(&out, b, "bike.toml")
		return out.String()
	}
	base := func() *garage.Bike {
		b := garage.DefaultBike("twin", 2)
		b.IdleRPMLow, b.IdleRPMHigh = 1000, 1100
		return &b
	}
	was, fields := text(base()), 0
	var walk func(path []int, of reflect.Type)
	walk = func(path []int, of reflect.Type) {
		for i := range of.NumField() {
			f, at := of.Field(i), append(slices.Clone(path), i)
			if f.Name == "Unknown" { // told by UnknownKeys
				continue
			}
			if f.Type.Kind() == reflect.Struct {
				walk(at, f.Type)
				continue
			}
			b := base()
			switch v := reflect.ValueOf(b).Elem().FieldByIndex(at); v.Kind() {
			case reflect.Float64:
				v.SetFloat(v.Float() + 0.75)
			case reflect.Int:
				v.SetInt(v.Int() + 1)
			case reflect.Bool:
				v.SetBool(!v.Bool())
			case reflect.String:
				v.SetString(cmp.Or(map[string]string{"LevelBy": garage.LevelByOpening,
					"PilotScrews": garage.AirScrews}[f.Name], "other"))
			case reflect.Pointer:
				v.Set(reflect.New(v.Type().Elem()))
			case reflect.Slice:
				if f.Name == "FiringAngles" {
					v.Set(reflect.ValueOf([]float64{0, 270}))
				} else {
					v.Set(v.Slice(0, v.Len()-1))
				}
			default:
				t.Fatalf("%s is of a kind that this test does not know", f.Name)
			}
			if fields++; text(b) == was {
				t.Errorf("%s is not shown", f.Name)
			}
		}
	}
	walk(nil, reflect.TypeFor[garage.Bike]())
	if fields < 20 {
		t.Errorf("only %d fields were looked at", fields)
	}
}

// What stands on a card in kPa is shown in the bike's own unit as well.
func TestABikesCardIsInItsUnitToo(t *testing.T) {
	t.Parallel()
	b := garage.Bike{Name: "invented", Unit: "mmHg", AimKPa: 0.5, LimitKPa: 2.7, Bank: bank.Default(2)}
	b.Bank.Screws[0].EffectKPaPerTurn = -3.2
	var out strings.Builder
	BikeCard(&out, &b, "bike.toml")
	for _, want := range []string{"0.5 kPa (4 mmHg), limit 2.7 kPa (20 mmHg)", "−3.2 kPa (−24 mmHg) of vacuum"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("lacks %q:\n%s", want, out.String())
		}
	}
	b.Unit, out = "kPa", strings.Builder{}
	if BikeCard(&out, &b, "bike.toml"); strings.Contains(out.String(), "0.5 kPa (") {
		t.Errorf("kPa twice:\n%s", out.String())
	}
}
