package bikeform

import "evendraw/internal/garage"

// Question is one about a bike that is to get a card.
type Question struct {
	Text string
	// Usual returns the answer to offer, by what is known of the bike: common practice, or a guess.
	Usual func(b *garage.Bike) string
	take  func(b *garage.Bike, answer string) error
}

// Answer takes an answer into b; on an error, for people to read, b stays as it was.
func (q *Question) Answer(b *garage.Bike, answer string) error {
	tried := *b
	err := q.take(&tried, answer)
	if err == nil {
		err = garage.CheckBike(&tried)
	}
	if err == nil {
		*b = tried
	}
	return err
}

// What is asked, the number of cylinders first: the answers after it rest on it.
var (
	AskCylinders = Question{"How many cylinders, 2 to 4", offer("4"), takeCylinders}
	AskFiring    = Question{"Firing order, by the manual",
		func(b *garage.Bike) string { return joinList(b.Bank.FiringOrder, "-") }, takeFiringOrder}
	AskAngles = Question{"Degrees of crank at which they fire, in that order, as 0,270", offer("even"),
		takeFiringAngles}
	AskScrews = Question{"Synchronising screws, each with what it moves",
		func(b *garage.Bike) string { return formatScrews(b.Bank.Screws) }, takeScrews}
	AskIdle = Question{"Idle rpm by the manual (1050 means ±50; - is unknown)",
		offer(CommonIdle), takeIdle}
	AskMinutes = Question{"Minutes that it may idle (5 is a guess without a fan)", offer("5"), takeMinutes}
	AskNuts    = Question{"Have the synchronising screws lock nuts, yes or no (most have)", offer("yes"),
		takeNuts}
	AskPilots = Question{"Pilot screws: fuel (out is richer) or air (out is leaner)", offer("unknown"),
		takePilots}
)

// offer offers the same for every bike.
func offer(answer string) func(*garage.Bike) string {
	return func(*garage.Bike) string { return answer }
}
