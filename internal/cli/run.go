// Package cli is the command line: a file a verb, which holds its flags and one call to what does
// the work, in package job, desk or commission. Run runs it; fail.go turns errors into exit statuses.
package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
	"evendraw/internal/typing"
)

func init() { cobra.MousetrapHelpText = "" } // a double click is welcome

// Run does what the arguments say and returns the exit status.
func Run(ctx context.Context, version string, args []string, in io.Reader, out, errOut io.Writer) int {
	status := run(ctx, &program{version: version}, args, in, out, errOut)
	if len(args) == 0 && ownWindow() {
		keepWindow(in, errOut)
	}
	return status
}

// keepWindow lets the last words be read before the window of a double click goes.
func keepWindow(in io.Reader, errOut io.Writer) {
	fmt.Fprint(errOut, "Press Enter to close this window.")
	bufio.NewReader(in).ReadString('\n')
}

// run is Run of a program in another world.
func run(ctx context.Context, p *program, args []string, in io.Reader, out, errOut io.Writer) int {
	shownOut, shownErr := plain.NewWriter(out), plain.NewWriter(errOut)
	defer shownErr.Close()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	shownOut.WrapAt(func() int { return typing.Columns(out) })
	shownErr.WrapAt(func() int { return typing.Columns(errOut) })
	shownOut.OnFailure(stop) // what nobody gets is not worth going on for
	root := newRootCommand(p)
	helpOfVerbs(root)
	root.SetArgs(joinPractice(args))
	root.SetIn(in)
	root.SetOut(shownOut)
	root.SetErr(shownErr)
	verb, err := root.ExecuteContextC(ctx)
	shownOut.Close()
	if e := shownOut.Err(); e != nil {
		hint.Report(shownErr, hint.With(typing.CantWrite(e), "look at what it is sent to"))
		return exitFailed
	}
	if err == nil {
		return 0
	}
	var bad *fs.PathError
	if errors.As(err, &bad) && bad.Path == os.Stdout.Name() { // as a library writes it
		err = hint.With(typing.CantWrite(bad.Err), "look at what it is sent to")
	}
	if errors.Is(err, context.Canceled) {
		return exitInterrupted
	}
	hint.Report(shownErr, hint.Use(err, verb.CommandPath()))
	return statusOf(err)
}

// program is one run of the program: its world, and what the flags of every verb choose.
type program struct {
	version string
	world   settings.World
	choice  settings.Choice
}

func (p *program) addFlags(f *pflag.FlagSet) {
	f.StringVar(&p.choice.Garage, "garage", "",
		"folder that holds every file (default: EVENDRAW_GARAGE, else the platform's data folder)")
	f.StringVar(&p.choice.Bike, "bike", "", "the bike card to use (default: the last one)")
	decimalVar(f, &p.choice.Ambient, "ambient", 0, "air pressure in kPa absolute, from a barometer at this place")
}

// settings are those in force for a verb with such a need of a bike.
func (p *program) settings(cmd *cobra.Command, need settings.Need) (*settings.Settings, error) {
	std := streams(cmd)
	return settings.Resolve(&p.world, p.version, p.choice, need, std.Warn)
}

// doing returns what a verb does with options, of which practice names a practice bike; nil where no bike is needed.
func doing[O any](p *program, o *O, practice *string,
	do func(context.Context, *settings.Settings, *O, settings.Streams) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, _ []string) error {
		need := settings.NoBike
		if practice != nil {
			need = bikeNeed(*practice)
		}
		set, err := p.settings(cmd, need)
		if err != nil {
			return err
		}
		return do(cmd.Context(), set, o, streams(cmd))
	}
}

// bikeNeed is how a run stands to the bike: on the practice engine the last card need not be sound.
func bikeNeed(practice string) settings.Need {
	if practice != "" {
		return settings.MayNamed
	}
	return settings.MayBike
}

// streams are where a command reads and prints.
func streams(cmd *cobra.Command) settings.Streams {
	return settings.Streams{In: cmd.InOrStdin(), Out: cmd.OutOrStdout(), Err: cmd.ErrOrStderr()}
}

// with returns what a verb does that needs settings.
func (p *program) with(need settings.Need,
	do func(cmd *cobra.Command, args []string, set *settings.Settings) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		set, err := p.settings(cmd, need)
		if err != nil {
			return err
		}
		return do(cmd, args, set)
	}
}

// reportAll tells what is damaged among the files that were read.
func reportAll(cmd *cobra.Command, damaged []*garage.Error) {
	hint.ReportAll(cmd.ErrOrStderr(), damaged)
}

// jsonFlag adds the flag for JSON, whose keys are said.
func jsonFlag(cmd *cobra.Command, asJSON *bool, keys string) {
	cmd.Flags().BoolVar(asJSON, "json", false, "print JSON: "+keys)
}

// bySchema is said of the keys that evendraw schema says.
const bySchema = "its keys are in evendraw schema"

// NewRoot returns the commands of a version of the program, for what describes them.
func NewRoot(version string) *cobra.Command { return newRootCommand(&program{version: version}) }

func newRootCommand(p *program) *cobra.Command {
	root := &cobra.Command{
		Use:   "evendraw",
		Short: "Level a bank of carburettors with a board, four sensors and a screwdriver",
		Long: `evendraw reads a small board with a pressure sensor per cylinder and says live
which synchronising screw to turn, which way, how much, and when to stop.

Outdoors only: exhaust holds carbon monoxide. Keep hands, hair, leads and hoses
from hot and moving parts, petrol from heat; a standing engine overheats in
minutes. The maker's manual and the law of the place come first.`,
		Example: `  evendraw                        the job from its first step, on the screen
  evendraw live --practice        try it on the practice engine, without any rig
  evendraw bike new "old twin" --cylinders 2
  evendraw live                   level the last bike with the board that is plugged in
  evendraw analyse FILE           what a capture or a table says`,
		Version:           p.version,
		SilenceErrors:     true,
		SilenceUsage:      true,
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) error { return checkEmpty(cmd) },
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !typing.IsTerminal(cmd.OutOrStdout()) {
				return cmd.Help()
			}
			// A double click, too, leads here: begin the job.
			set, err := p.settings(cmd, settings.MayBike)
			if err != nil {
				return err
			}
			return job.Live(cmd.Context(), set, &job.LiveOptions{}, streams(cmd))
		},
	}
	root.SetHelpFunc(writeHelp)
	root.SetUsageFunc(writeUsage)
	root.SetFlagErrorFunc(wrongFlag)
	p.addFlags(root.PersistentFlags())
	for _, verb := range []func(*program) *cobra.Command{newLiveCommand, newZeroCommand, newMatchCommand,
		newCaptureCommand, newReplayCommand,
		newAnalyseCommand, newMixtureCommand, newLeaksCommand, newBikeCommand, newBoardCommand,
		newPathsCommand, newBenchCommand,
		newHistoryCommand, newCompareCommand, newTrendCommand, newSheetCommand, newExportCommand, newSchemaCommand,
		newGarageCommand} {
		root.AddCommand(verb(p))
	}
	p.complete(root)
	everyVerb(root, settle)
	everyVerb(root, onceEach)
	root.InitDefaultCompletionCmd("completion")
	ownCompletionWords(root)
	return root
}

// helpOfVerbs has the verb help refuse a word that is no verb, in place of the general help.
func helpOfVerbs(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	help, _, _ := root.Find([]string{"help"})
	help.Args = func(_ *cobra.Command, words []string) error {
		if of, rest, _ := root.Find(words); len(rest) > 0 {
			return unknownVerb(of, rest[0])
		}
		return nil
	}
}

// everyVerb does something to a command and to all verbs below it.
func everyVerb(cmd *cobra.Command, do func(*cobra.Command)) {
	do(cmd)
	for _, verb := range cmd.Commands() {
		everyVerb(verb, do)
	}
}

// settle gives a verb what it leaves unsaid: it takes no arguments, and shows its help where it only has verbs below.
func settle(verb *cobra.Command) {
	if verb.Args == nil {
		verb.Args = cobra.NoArgs
	}
	verb.Args = usageArgs(verb.Args)
	if !verb.Runnable() {
		verb.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	}
}

// usageArgs marks a wrong number of arguments as wrong use, and says what would be right.
func usageArgs(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		err := check(cmd, args)
		if err == nil {
			return nil
		}
		if len(args) > 0 && cmd.HasSubCommands() {
			return unknownVerb(cmd, args[0])
		}
		what := "too many names are given"
		if len(args) == 0 {
			what = "a name is missing"
			if strings.HasSuffix(cmd.Use, "NUMBER") {
				what = "a number is missing"
			}
		}
		return hint.Usagef("%s; the use is %s", what, cmd.UseLine())
	}
}

// unknownVerb names the verb that was probably meant: one of the command's, or of its verbs.
func unknownVerb(cmd *cobra.Command, word string) error {
	var verbs []string
	_, notNumber := strconv.Atoi(word)
	for _, v := range cmd.Commands() {
		if notNumber == nil && v.Name() == "show" {
			return hint.Usagef("there is no verb %q; is %s %s meant?", word, v.CommandPath(), word)
		}
		verbs = append(verbs, v.Name())
		for _, below := range v.Commands() {
			if below.Name() == word {
				return hint.Usagef("there is no verb %q; is %s meant?", word, below.CommandPath())
			}
		}
	}
	return hint.Usagef("there is no verb %q%s", cmd.CommandPath()+" "+word, plain.IsMeant(word, verbs))
}

// wrongFlag says what is wrong with a flag: what its value should be, or which one was probably meant, or which verb,
// where that is what is wrong.
func wrongFlag(cmd *cobra.Command, err error) error {
	if words := cmd.Flags().Args(); len(words) > 0 && cmd.HasSubCommands() {
		return unknownVerb(cmd, words[0])
	}
	var bad *pflag.InvalidValueError
	if errors.As(err, &bad) {
		f, kind := bad.GetFlag(), bad.GetFlag().Value.Type()
		switch {
		case errors.Is(bad.Unwrap(), errTwice):
			return hint.Usagef("--%s %w", f.Name, bad.Unwrap())
		case kind == "int":
			return hint.Usagef("--%s: %q is no whole number", f.Name, bad.GetValue())
		case kind == "duration":
			return hint.Usagef("--%s: %q is no time: write it as 30s or 5m", f.Name, bad.GetValue())
		default:
			return hint.Usagef("--%s: %w", f.Name, bad.Unwrap())
		}
	}
	var unknown *pflag.NotExistError
	if !errors.As(err, &unknown) {
		return hint.Usage(err)
	}
	var flags []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { flags = append(flags, f.Name) })
	meant := plain.Nearest(unknown.GetSpecifiedName(), flags)
	if meant == "" {
		return hint.Usage(err)
	}
	return hint.Usagef("%w; is --%s meant?", err, meant)
}
