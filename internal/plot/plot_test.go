package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
)

// someChart has all that a chart can have.
func someChart() *Chart {
	c := &Chart{Name: `lines & "marks"`, Title: "A <title>", Width: 300, Height: 200,
		X: Axis{Label: "time, s"}, Y: Axis{Label: "spread, kPa"}}
	for i := range Cross + 1 {
		s := Series{Name: fmt.Sprintf("series %d", i), Colour: Palette[int(i)%len(Palette)], Mark: i,
			Line: i != Ring, Dashed: i == NoMark}
		for x := range 4 {
			s.Points = append(s.Points, Point{float64(x), math.Sin(float64(x)) - float64(i)})
		}
		c.Add(s)
	}
	return c
}

func TestRoundTicks(t *testing.T) {
	for _, c := range []struct {
		low, high, step float64
		want            string
	}{
		{0, 6, 0.9, "0 1 2 3 4 5 6"},
		{-3.2, 3.2, 1, "−3 −2 −1 0 1 2 3"},
		{0, 0.3, 0.1, "0.0 0.1 0.2 0.3"},
		{-28.1, 30.4, 11, "−20 0 20"},
		{0, 1, 0.17, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{0, 1200, 201, "0 500 1000"},
		{0.5, 0.52, 0.004, "0.500 0.505 0.510 0.515 0.520"},
		{-0.004, 0.004, 0.01, "0.00"},
	} {
		var names []string
		for _, tick := range roundTicks(c.low, c.high, c.step) {
			names = append(names, tick.Name)
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%g to %g by %g: %s, want %s", c.low, c.high, c.step, got, c.want)
		}
	}
}

// Texts are escaped, so that the SVG is XML with all of them in it, and nothing lies outside.
func TestSVG(t *testing.T) {
	var b bytes.Buffer
	c := someChart()
	c.Add(Series{Name: "</text>\x1b[31m'", Points: []Point{{1, 1}}, Mark: Ring})
	if err := c.SVG(&b); err != nil {
		t.Fatal(err)
	}
	texts, d := "", xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if text, ok := token.(xml.CharData); ok {
			texts += string(text)
		}
	}
	for _, want := range []string{"A <title>", "time, s", "spread, kPa", "series 4", "</text>.[31m'"} {
		if !strings.Contains(texts, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(b.String(), "NaN") || !strings.Contains(b.String(), "stroke-dasharray") {
		t.Error("not the lines that were wanted")
	}
}

// Every place of the chart's points lies within the chart, the labels below.
func TestPlacesLieWithin(t *testing.T) {
	c := someChart()
	for _, i := range c.drawing().items {
		if p, ok := i.(*path); ok {
			for _, at := range p.points {
				if at.X < 0 || at.Y < 0 || at.X > c.Width || at.Y > c.Height {
					t.Errorf("%v", at)
				}
			}
		}
	}
}

// A mark at either end of the x axis lies between the ends of the grid's lines, its stroke too.
func TestMarksAtTheEndsLieWithin(t *testing.T) {
	for mark := Disc; mark <= Halo; mark++ {
		c := &Chart{Width: 400, Height: 200}
		c.Add(Series{Points: []Point{{X: -3, Y: 1}, {X: 3, Y: 2}}, Mark: mark, Colour: Palette[0]})
		left, right := c.Width, 0.0 // of the lines across
		for _, i := range c.drawing().items {
			if p, ok := i.(*path); ok && len(p.points) == 2 && p.points[0].Y == p.points[1].Y {
				left, right = min(left, p.points[0].X), max(right, p.points[1].X)
			}
		}
		for _, i := range c.drawing().items {
			p, ok := i.(*path)
			if !ok || p.colour != Palette[0] || p.points[0].Y < rowHeight+1 { // that of the legend
				continue
			}
			for _, at := range p.points {
				if at.X-p.width/2 < left || at.X+p.width/2 > right {
					t.Fatalf("mark %d reaches to %.1f, the lines from %.1f to %.1f", mark, at.X, left, right)
				}
			}
		}
	}
}

func decoded(t *testing.T, d *Drawing) func(x, y float64) color.RGBA {
	t.Helper()
	var b bytes.Buffer
	if err := d.PNG(&b); err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	size := picture.Bounds().Size()
	if float64(size.X) != math.Ceil(d.Width*pixels) || float64(size.Y) != math.Ceil(d.Height*pixels) {
		t.Errorf("%v", size)
	}
	return func(x, y float64) color.RGBA {
		return color.RGBAModel.Convert(picture.At(int(x*pixels), int(y*pixels))).(color.RGBA)
	}
}

// Lines, dashes, areas and letters cover in a picture what they should, and what lies outside
// harms nothing.
func TestPNG(t *testing.T) {
	white, red := color.RGBA{255, 255, 255, 255}, color.RGBA{200, 0, 0, 255}
	d := &Drawing{Width: 100, Height: 60}
	d.Line(4, false, red, Point{10, 10}, Point{40, 10}, Point{40, 40})
	d.Line(4, true, red, Point{50, 10}, Point{90, 10})
	d.Area(red, polygon(Point{70, 40}, 10, discCorners, 0)...)
	d.Line(1, false, red, Point{-500, -500}, Point{500, -500}, Point{500, 20}, Point{500, 20})
	d.Area(red, Point{-5, 55}, Point{5, 55}, Point{5, 75}, Point{-5, 75})
	d.Text(Point{98, 58}, End, Font{Size: 8, Colour: red}, "▒M")
	at := decoded(t, d)
	for place, want := range map[Point]color.RGBA{
		{20, 10}: red, {20, 14}: white, {40, 10}: red, {41, 9}: red, {40, 30}: red, {30, 30}: white,
		{52, 10}: red, {55.5, 10}: white, {59, 10}: red, {70, 40}: red, {79, 40}: red, {81, 40}: white, {2, 57}: red,
	} {
		if got := at(place.X, place.Y); got != want {
			t.Errorf("%v: %v, want %v", place, got, want)
		}
	}
	letters := 0
	for x := 85.; x < 99; x += 0.3 {
		if at(x, 55) != white {
			letters++
		}
	}
	if letters < 5 {
		t.Errorf("%d points of letters", letters)
	}
}

// A chart of nothing, and of one point, is drawn.
func TestChartsOfLittle(t *testing.T) {
	one := &Chart{Width: 100, Height: 80}
	one.Add(Series{Points: []Point{{0, 0}}, Mark: Disc})
	one.Add(Series{Name: "nothing"})
	for _, c := range []*Chart{{Width: 100, Height: 80}, one} {
		if svg := c.Inline(); strings.Contains(svg, "NaN") || strings.Contains(svg, "nothing") {
			t.Error(svg)
		}
		decoded(t, c.drawing())
	}
}
