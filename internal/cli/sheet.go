package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/sheet"
)

func newSheetCommand(p *program) *cobra.Command {
	var out, png string
	var overwrite bool
	cmd := &cobra.Command{
		Use:   "sheet [RECORD]",
		Short: "Make one A4 page of a record, for the bike's folder or a customer",
		Long: `Make one A4 page of a record, the newest without a number: HTML that any browser
opens and prints, without a network, or with a name that ends in .png a picture for a
phone. It is written into the folder you are in. With --png, both.`,
		Example: `  evendraw sheet
  evendraw sheet 7 --out four.html --png four.png`,
		Args: cobra.MaximumNArgs(1),
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			s, err := desk.RecordNamed(set, argument(args, 0))
			if err != nil {
				return err
			}
			page := sheet.Of(set.Garage, s, set.Unit())
			if out == "" {
				out = sheet.FreeFile(".", &s.Kept)
			}
			for _, name := range []string{out, png} {
				if name == "" {
					continue
				}
				write, err := sheetWriter(name, name == png, page.HTML, page.PNG)
				if err != nil {
					return err
				}
				if err := settings.WriteFile(name, overwrite, write); err != nil {
					return err
				}
				fmt.Fprintln(cmd.OutOrStdout(), "wrote "+name)
			}
			return nil
		}),
	}
	cmd.Flags().StringVar(&out, "out", "", "the file, .html or .png (default: the record's day and \"sheet.html\")")
	cmd.Flags().StringVar(&png, "png", "", "also write a picture for a phone to this file")
	overwriteFlag(cmd.Flags(), &overwrite)
	return cmd
}

// sheetWriter is what writes a file of that name; one without an ending, a device, gets what is asked for.
func sheetWriter(name string, picture bool, html, png func(io.Writer) error) (func(io.Writer) error, error) {
	ending := strings.ToLower(filepath.Ext(name))
	switch {
	case name == "-":
		return nil, hint.Usagef("--out -: a sheet is not printed here; name a file that ends in .html or .png")
	case ending == ".png", ending == "" && picture:
		return png, nil
	case picture:
		return nil, hint.Usagef("--png %q: the name of a picture ends in .png", name)
	case ending == ".html", ending == ".htm", ending == "":
		return html, nil
	}
	return nil, hint.Usagef("--out %q: a sheet is written as .html or .png", name)
}
