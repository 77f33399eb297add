package view

import (
	"cmp"
	"slices"

	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// Item is a line of a list.
type Item struct {
	// Mark is a sign before the text: "x" done, "-" does not apply, " " open, ">" for where the job stands.
	Mark, Text string
	// InHand is set on the line that the keys act on.
	InHand bool
	Role   Role
}

// bikeAt is the line of a bike in the list, -1 when it has none.
func (v *View) bikeAt(name string) int { return slices.Index(v.Bikes, name) }

// takeBikeLine does what the line in hand of the bikes' list says.
func (v *View) takeBikeLine() {
	switch i := v.Cursor - len(v.Bikes); {
	case i == 0:
		v.Entry = &Entry{For: EntryBikeName, Prompt: "Name of the bike"}
	case i > 0:
		v.want(Want{Kind: ChooseBike})
		v.finish()
	default:
		v.want(Want{Kind: ChooseBike, Text: v.Bikes[v.Cursor]})
		v.finish()
	}
}

func (v *View) bikeItems() (items []Item) {
	for _, name := range v.Bikes {
		mark := " "
		if name == v.Bike {
			mark = ">"
		}
		items = append(items, Item{Mark: mark, Text: plain.Text(name)})
	}
	return append(items, Item{Mark: "+", Text: "make a card for another bike"},
		Item{Mark: " ", Text: "no card: nothing is remembered"})
}

// openCheck reports whether a check has no answer yet.
func (v *View) openCheck(c garage.Check) bool {
	_, ok := garage.TickOf(v.Ticks, c.ID)
	return !ok
}

func (v *View) anyOpen() bool { return slices.ContainsFunc(v.Checks, v.openCheck) }

// tickCheck answers the check in hand, and takes the next one.
func (v *View) tickCheck(answer string) {
	v.Ticks = garage.WithTick(v.Ticks, garage.Tick{ID: v.Checks[v.Cursor].ID, Time: v.Now, Answer: answer})
	v.Cursor = min(v.Cursor+1, len(v.Checks)-1)
}

func (v *View) checkItems() (items []Item) {
	part := ""
	for _, c := range v.Checks {
		short, _ := benchwords.CheckWords(c)
		it := Item{Mark: " ", Text: short}
		if c.Part != part {
			part = c.Part
			it.Text = benchwords.PartWords(part) + ": " + short
		}
		if t, ok := garage.TickOf(v.Ticks, c.ID); ok {
			it.Mark = cmp.Or(map[string]string{garage.TickNotNeeded: "-", garage.TickLeft: "!"}[t.Answer], "x")
			it.Role = map[string]Role{"x": Good, "-": Dim, "!": Warn}[it.Mark]
		}
		items = append(items, it)
	}
	return items
}

// known reports whether a step is done by what is known of bike and sensors, whoever did it and when.
func (v *View) known(s Step) bool {
	switch s {
	case StepBike:
		return v.Bike != ""
	case StepRig:
		return v.snap().Board != nil
	case StepZero:
		return v.snap().Zero.Zeroed
	case StepChecks, StepMatch:
		return v.done(s)
	}
	return false
}

func (v *View) stepItems() (items []Item) {
	for s := range stepCount {
		it := Item{Mark: " ", Text: s.Name()}
		switch {
		case s == v.Flow.At:
			it.Mark = ">"
		case v.marks[s] == "" && s < v.Flow.At && v.known(s):
			it.Mark, it.Role = "x", Good
		case v.marks[s] != "":
			it.Mark, it.Role = v.marks[s], map[bool]Role{true: Good, false: Dim}[v.marks[s] == "x"]
		}
		items = append(items, it)
	}
	return items
}

// list is the page's list, with the line in hand.
func (v *View) list() (items []Item) {
	switch {
	case v.listLength() == 0:
		return nil
	case v.Page == PageSteps:
		items = v.stepItems()
	case v.Flow.At == StepBike:
		items = v.bikeItems()
	default:
		items = v.checkItems()
	}
	items[min(max(v.Cursor, 0), len(items)-1)].InHand = true
	return items
}

// skipTo is the step after the one that is skipped; a blip looks again only at what is level.
func (v *View) skipTo() Step {
	if v.Flow.At == StepLevel && v.unlevel() {
		v.marks[StepBlip] = "-"
		return StepIdle
	}
	return v.next()
}

// finish goes on to the next step, the one at hand being done.
func (v *View) finish() {
	v.mark("x")
	v.goTo(v.next(), true)
	v.Flow.began = v.Now
}

// choose goes to the step that the user wants, whatever the one at hand is like.
func (v *View) choose(s Step) {
	if s <= StepBike && v.Practice != nil {
		v.note("In practice its engine is the bike: there is no other to choose.", Plain)
		return
	}
	if v.done(v.Flow.At) {
		v.mark("x")
	}
	v.goTo(s, false)
}

// mark notes how the step at hand was left; what was done once stays done.
func (v *View) mark(m string) {
	if v.marks[v.Flow.At] != "x" {
		v.marks[v.Flow.At] = m
	}
}
