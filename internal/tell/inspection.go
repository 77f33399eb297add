package tell

import (
	"fmt"
	"io"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// DamagedFile is a file of the garage that can't be used.
type DamagedFile struct {
	File    string  `json:"file"`
	Problem string  `json:"problem"`
	Newer   bool    `json:"newer"`     // written by a newer program
	NoRight bool    `json:"no_right"`  // for want of the right to read it: it may be whole
	Aside   *string `json:"set_aside"` // where it was moved; nil if it was not
}

// Inspection prints what a look at all files of the garage found.
func Inspection(out io.Writer, rep *garage.Report, damaged []DamagedFile, asJSON bool) error {
	var lines []string
	denied := 0
	for _, d := range damaged {
		lines = append(lines, plain.Text(d.Problem))
		if d.Aside != nil {
			lines = append(lines, "  set aside: "+plain.Text(*d.Aside))
		}
		if d.NoRight {
			denied++
		}
	}
	for _, u := range rep.Unknown {
		lines = append(lines, plain.Text(u.File)+": "+UnknownKeys("it", u.Keys))
	}
	for _, m := range rep.Missing {
		lines = append(lines, plain.Text(m)+": a record names this capture, which is not among the bike's")
	}
	for _, a := range rep.Aside {
		lines = append(lines, plain.Text(a)+": was set aside earlier")
	}
	text := fmt.Sprintf("%d files read, %d damaged", rep.Files-denied, len(damaged)-denied)
	if denied > 0 {
		text += fmt.Sprintf(", %d not read, for want of the right to", denied)
	}
	return show(out, asJSON, map[string]any{"files": rep.Files, "damaged": damaged,
		"unknown_keys":      append([]garage.UnknownKeys{}, rep.Unknown...),
		"missing_captures":  append([]string{}, rep.Missing...),
		"set_aside_earlier": append([]string{}, rep.Aside...)}, append(lines, text))
}
