package sheet

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/plot"
	"evendraw/internal/pressure"
	"evendraw/internal/tell"
)

// Page is a record on one A4 page.
type Page struct {
	Record *garage.SyncRecord
	Bench  *garage.BenchCard // that holds for the record, nil without
	Unit   pressure.Unit     // that pressures are shown in
	// Corrects is the number of the record that this one corrects.
	Corrects garage.Number
	// CorrectedBy is the number of the last record that corrects this one; its N is 0 where none does.
	CorrectedBy garage.Number
}

// Of is a record's page, with the bench card that held when it was made.
func Of(g *garage.Garage, rec *garage.StoredSync, unit pressure.Unit) *Page {
	p := &Page{Record: &rec.Kept, Unit: unit, Corrects: rec.Corrects(), CorrectedBy: rec.By}
	cards, _ := g.ListBench(rec.Kept.Bike)
	for i := range cards {
		if !cards[i].Kept.Time.After(rec.Kept.Time) {
			p.Bench = &cards[i].Kept
		}
	}
	return p
}

// FreeFile returns the path for a record's page in a folder where no file is yet: by its day, then with 2, 3 after it.
func FreeFile(dir string, r *garage.SyncRecord) string {
	name := filepath.Join(dir, plain.Day(r.Time)+" sheet")
	path := name + ".html"
	for n := 2; ; n++ {
		if _, err := os.Lstat(path); err != nil {
			return path
		}
		path = fmt.Sprintf("%s %d.html", name, n)
	}
}

// row is a line of a table.
type row struct {
	Name  string
	Cells []string
}

// content is what both forms of the page show, as texts.
type content struct {
	Bike, Date, Verdict string
	Good                bool
	Spread              string // before and after
	Facts               []tell.Fact
	Heads               []string
	Cylinders           []row
	Carburettors        []row
	CarbHeads           []string
	Turns, Pilots       []string
	Note                string
	Foot                string
}

// plots are the page's plots; either may be nil.
func (p *Page) plots() (lanes, steps *plot.Chart, err error) {
	r := p.Record
	if r.After != nil && len(r.After.Cylinders) > 0 {
		lanes, err = LanesPlot(r.Before, r.After, "before", "after", p.Unit)
	}
	return lanes, StepsPlot(r, p.Unit), err
}

// content puts the page in texts.
func (p *Page) content() *content {
	r, u := p.Record, p.Unit
	c := &content{Bike: r.Bike, Date: r.Time.Local().Format("2 January 2006, 15:04"), Note: r.Note,
		Verdict: tell.VerdictWords(r.Verdict, r.Warmth), Turns: tell.TurnedLines(r),
		Pilots: tell.PilotLines(r),
		Good: r.Verdict == garage.VerdictDone && len(tell.Doubts(r, u)) == 0 && r.After != nil &&
			pressure.KPa(r.After.SpreadKPa) <= r.LimitKPa}
	if c.Spread = "Nothing was read after the last turn: how level it is, is not known"; r.After != nil {
		c.Spread = "Spread " + tell.Spread(r.After, u)
		if r.Before != nil {
			c.Spread += fmt.Sprintf(", was %s", u.Format(pressure.KPa(r.Before.SpreadKPa)))
		}
		c.Spread += fmt.Sprintf("; limit %s", u.Format(r.LimitKPa))
	}
	c.Facts = p.facts()
	c.Heads, c.Cylinders = p.cylinders()
	p.carburettors(c)
	c.Foot = fmt.Sprintf("evendraw %s, board %s (program %s); %s", r.Program, cmp.Or(r.Board.Serial, plain.Dash),
		cmp.Or(r.Board.Program, plain.Dash), tell.Sensors(r))
	if r.Corrects != "" {
		c.Foot += "; " + tell.Corrects(p.Corrects)
	}
	if p.CorrectedBy.N != 0 {
		c.Foot += "; " + tell.CorrectedBy(p.CorrectedBy) + ": that one holds now"
	}
	return c
}

// facts are what the page says in names and values: the speeds, which no reading of it tells, and what the record says.
func (p *Page) facts() (facts []tell.Fact) {
	r, u := p.Record, p.Unit
	if r.After != nil && !math.IsNaN(float64(r.After.RPM)) {
		facts = append(facts, tell.Fact{Name: "Idle speed", Text: fmt.Sprintf("%.0f rpm", float64(r.After.RPM))})
	}
	if r.Raised != nil {
		facts = append(facts, tell.Fact{Name: "Raised speed", Text: fmt.Sprintf("spread %s %s at %.0f rpm",
			u.Format(pressure.KPa(r.Raised.SpreadKPa)), u.Name, float64(r.Raised.RPM))})
	}
	return append(facts, tell.Facts(r, u)...)
}

// cylinders is the table of readings.
func (p *Page) cylinders() (heads []string, rows []row) {
	r, u := p.Record, p.Unit
	if r.After == nil {
		return nil, nil
	}
	heads = []string{"before, " + u.Name, "after, " + u.Name, fmt.Sprintf("against %d, %s", r.Reference, u.Name),
		"opening"}
	before := r.Before.Known()
	for i := range r.After.Cylinders {
		y := &r.After.Cylinders[i]
		opening := plain.Dash
		if v := float64(y.OpeningRatio); !math.IsNaN(v) {
			opening = fmt.Sprintf("%.2f", v)
		}
		rows = append(rows, row{fmt.Sprintf("cylinder %d", y.Cylinder),
			[]string{u.Format(pressure.KPa(before.Cylinder(y.Cylinder).DrawKPa)), u.Format(pressure.KPa(y.DrawKPa)),
				tell.Difference(y, r.Reference, u), opening}})
	}
	return heads, rows
}

// carburettors is the table of settings: those of the bench card, the pilot screws as the record has them where it has.
func (p *Page) carburettors(c *content) {
	r := p.Record
	pilot := make([]string, len(r.PilotTurnsOut))
	for i, t := range r.PilotTurnsOut {
		pilot[i] = garage.FormatTurns(float64(t))
	}
	for _, t := range r.Pilots {
		if i := t.Cylinder - 1; t.InTrial() && i >= 0 && i < len(pilot) {
			pilot[i] += " (trial)"
		}
	}
	carbs := len(pilot)
	if p.Bench != nil {
		carbs = max(carbs, len(p.Bench.Carburettors))
	}
	for i := range carbs {
		c.CarbHeads = append(c.CarbHeads, fmt.Sprint(i+1))
	}
	for _, field := range garage.Fields() {
		out, noted := row{Name: benchwords.SettingName(field)}, false
		for i := range carbs {
			text := ""
			switch {
			case field == garage.FieldPilotTurns && i < len(pilot):
				text = pilot[i]
			case p.Bench != nil && i < len(p.Bench.Carburettors):
				text = p.Bench.Carburettors[i].Text(field)
			}
			noted = noted || text != ""
			out.Cells = append(out.Cells, cmp.Or(strings.TrimSpace(text), plain.Dash))
		}
		if noted {
			c.Carburettors = append(c.Carburettors, out)
		}
	}
}
