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
}

// Of is a record's page, with the bench card that held when it was made.
func Of(g *garage.Garage, rec *garage.StoredSync, unit pressure.Unit) *Page {
	p := &Page{Record: &rec.Kept, Unit: unit, Corrects: rec.Corrects()}
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

// fact is a line of the page: a name and what it is.
type fact struct{ Name, Text string }

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
	Facts               []fact
	Heads               []string
	Cylinders           []row
	Carburettors        []row
	CarbHeads           []string
	Turns               []string
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
		Good: len(tell.Doubts(r)) == 0 && r.After != nil && pressure.KPa(r.After.SpreadKPa) <= r.LimitKPa}
	if c.Spread = "Nothing was read after the last turn: how level it is, is not known"; r.After != nil {
		c.Spread = fmt.Sprintf("Spread %s %s", u.Format(pressure.KPa(r.After.SpreadKPa)), u.Name)
		if v := float64(r.After.SpreadUncertaintyKPa); !math.IsNaN(v) {
			c.Spread += " ±" + u.Format(pressure.KPa(v))
		}
		c.Spread += plain.LeftOut(r.After.LeftOut())
		if r.Before != nil {
			c.Spread += fmt.Sprintf(", was %s", u.Format(pressure.KPa(r.Before.SpreadKPa)))
		}
		c.Spread += fmt.Sprintf("; limit %s", u.Format(r.LimitKPa))
	}
	c.Facts = p.facts()
	c.Heads, c.Cylinders = p.cylinders()
	p.carburettors(c)
	c.Foot = fmt.Sprintf("evendraw %s, board %s (program %s)", r.Program, cmp.Or(r.Board.Serial, plain.Dash),
		cmp.Or(r.Board.Program, plain.Dash))
	switch {
	case r.Zero != nil && !r.Zero.Time.IsZero():
		c.Foot += ", sensors zeroed " + plain.Minute(r.Zero.Time)
	case r.Zero != nil:
		c.Foot += ", sensors zeroed"
	default:
		c.Foot += "; no zero pass: the sensors' own zero errors are in the figures"
	}
	if r.Corrects != "" {
		c.Foot += "; " + tell.Corrects(p.Corrects)
	}
	return c
}

// facts are what the page says in names and values.
func (p *Page) facts() (facts []fact) {
	r, u := p.Record, p.Unit
	add := func(name, format string, args ...any) {
		facts = append(facts, fact{name, fmt.Sprintf(format, args...)})
	}
	for _, d := range tell.Doubts(r) {
		add("Doubt", "%s", d)
	}
	if r.LevelBy == garage.LevelByOpening {
		add("Aim", "%s", tell.ByOpening)
	}
	if text := tell.NutsWords(r.NutsUnconfirmed); text != "" {
		add("Lock nuts", "%s", text)
	}
	if r.After != nil && !math.IsNaN(float64(r.After.RPM)) {
		add("Idle speed", "%.0f rpm", float64(r.After.RPM))
	}
	if r.Raised != nil {
		spread := u.Format(pressure.KPa(r.Raised.SpreadKPa))
		add("Raised speed", "spread %s %s at %.0f rpm", spread, u.Name, float64(r.Raised.RPM))
	}
	add("Engine ran", "%s", plain.Minutes(r.IdlingSeconds))
	air := plain.Dash
	if v := float64(r.AmbientKPa); !math.IsNaN(v) {
		air = fmt.Sprintf("%.1f kPa", v)
	}
	if r.AltitudeM != nil {
		air += fmt.Sprintf(", %.0f m above the sea", *r.AltitudeM)
	}
	add("Air pressure", "%s", air)
	if r.Temperature != "" {
		add("Temperature", "%s", r.Temperature)
	}
	if v := float64(r.Lambda); !math.IsNaN(v) && v != 0 {
		add("Lambda", "%.3f", v)
	}
	for _, e := range r.Effects {
		if v := pressure.KPa(e.KPaPerTurn); !math.IsNaN(float64(v)) {
			add("Screw "+e.Screw, "%s %s per clockwise turn", u.FormatSigned(v), u.Name)
		}
	}
	return facts
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
	for _, y := range r.After.Cylinders {
		difference := "reference"
		if y.Cylinder != r.Reference {
			difference = u.FormatSigned(pressure.KPa(y.DifferenceKPa)) + " ±" + u.Format(pressure.KPa(y.UncertaintyKPa))
		}
		opening := plain.Dash
		if v := float64(y.OpeningRatio); !math.IsNaN(v) {
			opening = fmt.Sprintf("%.2f", v)
		}
		rows = append(rows, row{fmt.Sprintf("cylinder %d", y.Cylinder),
			[]string{u.Format(pressure.KPa(before.Cylinder(y.Cylinder).DrawKPa)), u.Format(pressure.KPa(y.DrawKPa)),
				difference, opening}})
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
