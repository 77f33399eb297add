package garage_test

import (
	"fmt"
	"os"

	"evendraw/internal/garage"
)

// A bike's card is made, read again, and remembered.
func Example() {
	dir, err := os.MkdirTemp("", "garage")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	g, err := garage.Open(dir)
	if err != nil {
		fmt.Println(err)
		return
	}
	b := garage.DefaultBike("red four", 4)
	b.IdleRPMLow, b.IdleRPMHigh = 1000, 1100
	fmt.Println(g.NewBike(&b), g.SetLastBike(b.Name))
	name, _ := g.LastBike()
	again, err := g.LoadBike(name)
	fmt.Println(again.Name, again.Bank.FiringOrder, again.IdleRPMLow, err)
	// Output:
	// <nil> <nil>
	// red four [1 2 4 3] 1000 <nil>
}

// Mechanics count pilot screws in quarters and eighths.
func ExampleParseTurns() {
	for _, s := range []string{"2 1/4", "2.25", "2¼"} {
		turns, err := garage.ParseTurns(s)
		fmt.Println(garage.FormatTurns(turns), err)
	}
	// Output:
	// 2 1/4 <nil>
	// 2 1/4 <nil>
	// 2 1/4 <nil>
}
