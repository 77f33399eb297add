package cli

import (
	"cmp"
	"fmt"
	"io"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/desk"
	"evendraw/internal/plot"
	"evendraw/internal/settings"
	"evendraw/internal/sheet"
	"evendraw/internal/tell"
)

// plotFiles are where a plot is to be written as well.
type plotFiles struct {
	svg, png settings.Target
}

func (o *plotFiles) addFlags(f *pflag.FlagSet) {
	f.StringVar(&o.svg.Name, "svg", "", "also write a plot to this file, which ends in .svg")
	f.StringVar(&o.png.Name, "png", "", "also write a plot to this file, which ends in .png")
	overwriteFlag(f, &o.svg.Overwrite)
}

// wanted reports whether there is a plot to be written, and looks at the names.
func (o *plotFiles) wanted() (bool, error) {
	o.svg.Flag, o.svg.Endings = "--svg", []string{".svg"}
	o.png.Flag, o.png.Endings, o.png.Overwrite = "--png", []string{".png"}, o.svg.Overwrite
	return o.svg.Name != "" || o.png.Name != "", cmp.Or(o.svg.Check(), o.png.Check())
}

// write writes a plot to the files that were named.
func (o *plotFiles) write(p *plot.Chart, errOut io.Writer) error {
	for _, f := range []struct {
		*settings.Target
		make func(io.Writer) error
	}{{&o.svg, p.SVG}, {&o.png, p.PNG}} {
		if f.Name == "" {
			continue
		}
		if err := f.Write(f.make); err != nil {
			return err
		}
		fmt.Fprintln(errOut, "wrote "+f.Name)
	}
	return nil
}

func newCompareCommand(p *program) *cobra.Command {
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
		Args: cobra.MaximumNArgs(2),
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			plots, err := files.wanted()
			if err != nil {
				return err
			}
			c, err := desk.Compare(set, argument(args, 0), argument(args, 1))
			if err != nil {
				return err
			}
			if plots {
				p, err := sheet.LanesPlot(c.From, c.To, c.FromName, c.ToName, c.Unit)
				if err != nil {
					return err
				}
				if err := files.write(p, cmd.ErrOrStderr()); err != nil {
					return err
				}
			}
			return tell.Compare(cmd.OutOrStdout(), c.From, c.To, c.FromName, c.ToName, c.Unit, asJSON)
		}),
	}
	files.addFlags(cmd.Flags())
	jsonFlag(cmd, &asJSON, "from, to (records' before and after, as evendraw schema has them), from_name, to_name")
	return cmd
}
