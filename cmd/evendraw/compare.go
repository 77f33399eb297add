package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/garage"
	"evendraw/internal/plot"
	"evendraw/internal/pressure"
	"evendraw/internal/sheet"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// plotFiles are where a plot is to be written as well.
type plotFiles struct{ svg, png string }

func (o *plotFiles) addFlags(f *pflag.FlagSet) {
	f.StringVar(&o.svg, "svg", "", "also write a plot to this file, as SVG")
	f.StringVar(&o.png, "png", "", "also write a plot to this file, as PNG")
}

// write writes a plot to the files that were named.
func (o *plotFiles) write(p *plot.Chart, errOut io.Writer) error {
	for _, f := range []struct {
		name string
		make func(io.Writer) error
	}{{o.svg, p.SVG}, {o.png, p.PNG}} {
		if f.name == "" {
			continue
		}
		if err := writeFile(f.name, f.make); err != nil {
			return err
		}
		fmt.Fprintln(errOut, "wrote "+f.name)
	}
	return nil
}

// writeFile makes a file, or writes it anew.
func writeFile(name string, make func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	err = make(f)
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

func newCompareCommand(r *rig) *cobra.Command {
	var files plotFiles
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare [RECORD [RECORD]]",
		Short: "Compare before and after of a record, two records, or two bikes",
		Long: `Compare before and after of a record, the newest without a number; or how two
records ended. A record is its number in evendraw history; BIKE:NUMBER is one
of another bike, BIKE: its newest.`,
		Example: `  evendraw compare
  evendraw compare 3 7
  evendraw compare "old four:" "new four:" --png both.png`,
		Args: usageArgs(cobra.MaximumNArgs(2)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.anyBike(); err != nil {
				return err
			}
			c, err := r.comparison(args)
			if err != nil {
				return err
			}
			return c.tell(r.unit(), &files, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	files.addFlags(cmd.Flags())
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// comparison is two readings with their names.
type comparison struct {
	a, b         *garage.RecordReading
	nameA, nameB string
}

func (r *rig) comparison(args []string) (*comparison, error) {
	one, err := r.recordNamed(argument(args, 0))
	if err != nil {
		return nil, err
	}
	if len(args) < 2 {
		if one.Record.Before == nil || one.Record.After == nil {
			return nil, fmt.Errorf("this record has no reading from before, or none from after")
		}
		return &comparison{one.Record.Before, one.Record.After, "before", "after"}, nil
	}
	other, err := r.recordNamed(args[1])
	if err != nil {
		return nil, err
	}
	if one.Record.After == nil || other.Record.After == nil {
		return nil, fmt.Errorf("one of the records has no reading from after")
	}
	name := func(s *garage.StoredSync) string {
		day := s.Record.Time.Local().Format("2006-01-02 15:04")
		if one.Record.Bike == other.Record.Bike {
			return day
		}
		return s.Record.Bike + ", " + day
	}
	return &comparison{one.Record.After, other.Record.After, name(one), name(other)}, nil
}

func (c *comparison) tell(u pressure.Unit, files *plotFiles, asJSON bool, out, errOut io.Writer) error {
	if files.svg != "" || files.png != "" {
		p, err := sheet.LanesPlot(c.a, c.b, c.nameA, c.nameB, u)
		if err != nil {
			return err
		}
		if err := files.write(p, errOut); err != nil {
			return err
		}
	}
	if asJSON {
		return json.NewEncoder(out).Encode(map[string]any{"from": c.a, "to": c.b, "from_name": c.nameA, "to_name": c.nameB})
	}
	for _, line := range view.CompareLines(c.a, c.b, tell.Plain(c.nameA), tell.Plain(c.nameB), u) {
		fmt.Fprintln(out, line)
	}
	return nil
}
