package garage

// Question is one about a bike that is to get a card.
type Question struct {
	Text  string
	usual func(b *Bike) string
	take  func(b *Bike, answer string) error
}

// Usual returns the answer to offer, by what is known of the bike: common practice, or a guess.
func (q *Question) Usual(b *Bike) string { return q.usual(b) }

// Answer takes an answer into b; on an error, for people to read, b stays as it was.
func (q *Question) Answer(b *Bike, answer string) error {
	tried := *b
	err := q.take(&tried, answer)
	if err == nil {
		err = CheckBike(&tried)
	}
	if err == nil {
		*b = tried
	}
	return err
}

// What is asked, the number of cylinders first: the answers after it rest on it.
var (
	AskCylinders = Question{"How many cylinders, 2 to 4", offer("4"), (*Bike).TakeCylinders}
	AskFiring    = Question{"Firing order, by the manual",
		func(b *Bike) string { return FormatCylinders(b.Bank.FiringOrder) }, (*Bike).TakeFiringOrder}
	AskAngles = Question{"Degrees of crank at which they fire, in that order, as 0,270", offer("even"),
		(*Bike).TakeFiringAngles}
	AskScrews = Question{"Synchronising screws, each with what it moves",
		func(b *Bike) string { return FormatScrews(b.Bank.Screws) }, (*Bike).TakeScrews}
	AskIdle = Question{"Idle rpm by the manual (1050 means ±50; - is unknown)",
		offer(CommonIdle), (*Bike).TakeIdle}
	AskMinutes = Question{"Minutes that it may idle (5 is a guess without a fan)", offer("5"), (*Bike).TakeMinutes}
	AskNuts    = Question{"Have the synchronising screws lock nuts, yes or no (most have)", offer("yes"),
		(*Bike).TakeNuts}
	AskPilots = Question{"Pilot screws: fuel (out is richer) or air (out is leaner)", offer("unknown"),
		(*Bike).TakePilots}
)

// offer offers the same for every bike.
func offer(answer string) func(*Bike) string { return func(*Bike) string { return answer } }
