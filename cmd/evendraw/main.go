// Command evendraw helps to bring a bank of motorcycle carburettors in tune: it
// reads a board with a pressure sensor per cylinder, and says which screw to
// turn, which way, and when to stop.
//
// Each verb has a file of its own, which holds its flags and joins packages.
package main

import (
	"context"
	"errors"
	"evendraw/internal/tell"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// version of the program; a release stamps it.
var version = "0.1.0"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run does what the arguments say and returns the exit status.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	return runIn(ctx, world{}, args, in, out, errOut)
}

// runIn is run in another world.
func runIn(ctx context.Context, w world, args []string, in io.Reader, out, errOut io.Writer) int {
	cobra.MousetrapHelpText = "" // a double click is welcome
	shownOut, shownErr := tell.NewWriter(out), tell.NewWriter(errOut)
	defer shownOut.Close()
	defer shownErr.Close()
	out, errOut = shownOut, shownErr
	root := newRootCommand(&rig{world: w, err: errOut})
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	if errors.Is(err, context.Canceled) {
		return exitInterrupted
	}
	report(errOut, err)
	return statusOf(err)
}

func newRootCommand(rig *rig) *cobra.Command {
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
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !isTerminal(cmd.OutOrStdout()) {
				return cmd.Help()
			}
			// A double click, too, leads here: begin the job.
			return runLive(cmd.Context(), rig, &liveOptions{port: portOptions{world: &rig.world}}, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	root.SetHelpTemplate(helpText)
	root.SetUsageTemplate(usageText)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return &usageError{err} })
	rig.addFlags(root.PersistentFlags())
	root.AddCommand(newLiveCommand(rig), newZeroCommand(rig), newMatchCommand(rig), newRecordCommand(rig), newReplayCommand(rig),
		newAnalyseCommand(rig), newMixtureCommand(rig), newBikeCommand(rig), newBoardCommand(rig), newTrialCommand(), newPathsCommand(rig), newBenchCommand(rig),
		newHistoryCommand(rig), newCompareCommand(rig), newTrendCommand(rig), newSheetCommand(rig), newExportCommand(rig), newGarageCommand(rig), newManualCommand())
	completeTree(root, rig)
	return root
}

// usageArgs marks a wrong number of arguments as wrong use, and says what would be right.
func usageArgs(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		err := check(cmd, args)
		if err == nil {
			return nil
		}
		if near := nearVerbs(cmd, args); len(near) > 0 {
			return usagef("%w; is %s meant?", err, strings.Join(near, " or "))
		}
		if len(args) == 1 && cmd.HasSubCommands() {
			return &usageError{err}
		}
		return usagef("%d names given; the use is %s", len(args), cmd.UseLine())
	}
}

// nearVerbs returns the verbs of a command that are spelt nearly as its argument.
func nearVerbs(cmd *cobra.Command, args []string) []string {
	if len(args) != 1 || !cmd.HasSubCommands() {
		return nil
	}
	cmd.SuggestionsMinimumDistance = 2
	return cmd.SuggestionsFor(args[0])
}
