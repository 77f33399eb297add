package cli

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

// portFlags adds the flags that choose a board.
func portFlags(f *pflag.FlagSet, p *settings.Port) {
	f.StringVar(&p.Path, "port", "", "serial port of the board (default: the one board that is plugged in)")
	f.IntVar(&p.Baud, "baud", 0, "line speed (default: 500000, 1000000, 250000 and 115200 are tried)")
}

// practiceFlag adds the flag that puts a practice bike in the board's place.
func practiceFlag(f *pflag.FlagSet, name *string) {
	f.StringVar(name, "practice", "", "use a practice engine instead of a board; --practice=NAME for one with a story")
	f.Lookup("practice").NoOptDefVal = practice.Fresh
}

// joinPractice puts the name of a practice bike that stands after --practice into it: with a space too it is meant.
func joinPractice(args []string) (joined []string) {
	for _, arg := range args {
		if last := len(joined) - 1; last >= 0 && joined[last] == "--practice" && practice.Known(arg) {
			joined[last] += "=" + arg
			continue
		}
		joined = append(joined, arg)
	}
	return joined
}

// checkPlace refuses a practice bike beside a port.
func checkPlace(practiceName string, p settings.Port) error {
	if practiceName != "" && p != (settings.Port{}) {
		return hint.Usagef("--practice takes the place of a board: it doesn't go with --port and --baud")
	}
	return nil
}

// screenFlags adds the flags that choose how the screen is drawn.
func screenFlags(f *pflag.FlagSet, o *screen.Options) {
	f.BoolVar(&o.NoColor, "no-color", false, "no colour (also: NO_COLOR)")
	f.BoolVar(&o.ASCII, "ascii", false, "draw with plain ASCII")
}

// tableFlags adds the flags that say what a table of another logger holds.
func tableFlags(f *pflag.FlagSet, o *settings.TableOptions) {
	f.IntVar(&o.Bits, "bits", 0, "converter bits of a table of counts, 10 to 16 (default 10)")
	f.StringVar(&o.Sensor, "sensor", "", "kind of the sensors of a table of counts or volts")
	f.BoolVar(&o.Zeroed, "zeroed", false, "the logger of a table took its sensors' zero errors off")
	f.StringVar(&o.Board, "board", "", "read a table with that board's card: its sensors, zero and comparison")
}

// overwriteFlag adds the flag that lets a file that is there be replaced.
func overwriteFlag(f *pflag.FlagSet, overwrite *bool) {
	f.BoolVar(overwrite, "overwrite", false, "replace a file that is there already")
}

// checkRange refuses a flag's number that is not from least to most; unit, with a space before it, stands behind them.
func checkRange(flag string, v, least, most float64, unit string) error {
	if v >= least && v <= most {
		return nil
	}
	return hint.Usagef("--%s %g is not from %g to %g%s", flag, v, least, most, unit)
}

// checkBits refuses a converter that there is not.
func checkBits(cmd *cobra.Command, bits int) error {
	if !cmd.Flags().Changed("bits") {
		return nil
	}
	return checkRange("bits", float64(bits), 10, 16, "")
}

// checkFor refuses a --for that was given and would end nothing.
func checkFor(cmd *cobra.Command, limit time.Duration) error {
	if cmd.Flags().Changed("for") && limit <= 0 {
		return hint.Usagef("--for %s: give a time above 0, as 30s", limit)
	}
	return nil
}

// mayBeEmpty marks a verb whose flags may be given an empty text, which takes away what was there.
const mayBeEmpty = "may-be-empty"

// checkEmpty refuses a flag whose text is empty: often a variable of the shell that was not set.
func checkEmpty(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		empty := f.Value.Type() == "string" && strings.TrimSpace(f.Value.String()) == ""
		if empty && cmd.Annotations[mayBeEmpty] == "" {
			err = hint.Usagef("--%s is empty: give it a value, or leave it out (%s)", f.Name, f.Usage)
		}
	})
	return err
}

// once is the value of a flag that takes one: of two that differ one would go unheard.
type once struct {
	pflag.Value
	given []string
}

// errTwice is why a flag is refused that was given twice.
var errTwice = errors.New("is given twice")

// Set takes the value.
func (o *once) Set(text string) error {
	if o.given = append(o.given, text); o.given[0] != text {
		return fmt.Errorf("%w, %q and %q: give it once", errTwice, o.given[0], text)
	}
	return o.Value.Set(text)
}

// onceEach has the flags of a verb take one value each, but for lists.
func onceEach(cmd *cobra.Command) {
	wrap := func(f *pflag.Flag) {
		_, list := f.Value.(pflag.SliceValue)
		if _, is := f.Value.(*once); !is && !list {
			if f.Value = (&once{Value: f.Value}); f.DefValue == "0s" {
				f.DefValue = "" // no limit: none is shown
			}
		}
	}
	cmd.LocalNonPersistentFlags().VisitAll(wrap)
	cmd.PersistentFlags().VisitAll(wrap)
}

// argument is the argument at that place, "" without one.
func argument(args []string, at int) string {
	if at < len(args) {
		return args[at]
	}
	return ""
}

// decimal is a flag's number, as people write it: 0.5, 0,5, 1/2 or ½.
type decimal float64

// decimalVar adds a flag for a number.
func decimalVar(f *pflag.FlagSet, to *float64, name string, usual float64, help string) {
	*to = usual
	f.Var((*decimal)(to), name, help)
}

func (d *decimal) String() string { return strconv.FormatFloat(float64(*d), 'g', -1, 64) }

// Type is what help calls the value.
func (d *decimal) Type() string { return "number" }

// Set reads the number.
func (d *decimal) Set(text string) error {
	v, err := plain.Decimal(text)
	if err != nil {
		if v, err = garage.ParseTurns(text); err != nil {
			return fmt.Errorf("%q is no number", text)
		}
	}
	*d = decimal(v)
	return nil
}

// large is a decimal of something that is counted in thousands: a comma may part those, or be the decimal one.
type large float64

// largeVar adds a flag for a number that may have thousands.
func largeVar(f *pflag.FlagSet, to *float64, name string, usual float64, help string) {
	*to = usual
	f.Var((*large)(to), name, help)
}

func (l *large) String() string { return (*decimal)(l).String() }

// Type is what help calls the value.
func (l *large) Type() string { return "number" }

// Set reads the number.
func (l *large) Set(text string) error {
	if plain.MayBeThousands(text) {
		return fmt.Errorf("%q may be a thousand times as much: write it without a comma or point for thousands", text)
	}
	return (*decimal)(l).Set(text)
}
