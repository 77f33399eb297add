package cli

import (
	"cmp"
	"net"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/hint"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/view"
)

func newLiveCommand(p *program) *cobra.Command {
	o := &job.LiveOptions{}
	cmd := &cobra.Command{
		Use:   "live",
		Short: "Level the bank, live",
		Long: `Read the board and say live what to turn. The screen leads through the job, from
the checks before the start to the record; o shows all its steps, ? the keys.
Without a terminal: one plain line a second. With --practice the practice engine
takes the board's place. Only the screen goes on with a run that was cut off:
lines and JSON begin anew.

Outdoors only: exhaust holds carbon monoxide. Mind hot and moving parts; an
engine that idles without wind overheats in minutes. The maker's manual comes first.

Practice bikes with a story, all invented:
` + practice.Stories(),
		Example: `  evendraw live                             the last bike, the board that is plugged in
  evendraw live --practice --at zero        straight to work, on the practice engine
  evendraw live --practice lumpy-twin --auto
  evendraw live --bike "old four" --port /dev/ttyUSB0 --at level
  evendraw live --practice --page           the phone at the bike shows and speaks it too
  evendraw live --headless --json --for 30s`,
		Args: cobra.MaximumNArgs(2),
		PreRunE: func(cmd *cobra.Command, args []string) error {
			return cmp.Or(takeArguments(o, args), checkFor(cmd, o.Limit), checkLive(o))
		},
		RunE: doing(p, o, &o.Practice, job.Live),
	}
	f := cmd.Flags()
	portFlags(f, &o.Port)
	practiceFlag(f, &o.Practice)
	f.BoolVar(&o.Auto, "auto", false, "with --practice: a virtual mechanic does the turning")
	f.BoolVar(&o.Headless, "headless", false, "no screen: one line a second, or JSON with --json")
	f.BoolVar(&o.JSON, "json", false,
		"with --headless: one reading a line, at most 20 a second; evendraw schema says its keys")
	f.BoolVar(&o.EveryCycle, "every-cycle", false, "with --json: every cycle, with its own figures")
	f.DurationVar(&o.Limit, "for", 0, "stop after that much of the source's own time")
	f.StringVar(&o.Capture, "capture", "",
		"also keep the board's bytes in this file (a zero pass or another reference taken meanwhile is not in it)")
	f.StringVar(&o.Note, "note", "", "a remark that goes into the record")
	f.BoolVar(&o.Sound, "sound", false,
		"ring the terminal's bell: once for go on, twice for stop, three times for wrong, four for level")
	f.StringVar(&o.At, "at", "", "begin at this step of the job: "+strings.Join(view.StepIDs(), ", "))
	f.StringVar(&o.Page.Addr, "page", "",
		"serve a page for a phone at the bike: it shows and speaks the advice; --page=ADDR:PORT binds there")
	f.Lookup("page").NoOptDefVal = pageAnywhere
	f.BoolVar(&o.Page.Anew, "new-address", false,
		"with --page: give the page another address, which stays until the next time; the old one leads nowhere")
	screenFlags(f, &o.Screen)
	return cmd
}

// pageAnywhere is --page without an address.
const pageAnywhere = "anywhere"

// takeArguments takes what stands after --practice and --page: a bike's name, and an address, which has a colon.
func takeArguments(o *job.LiveOptions, args []string) error {
	o.Page.Serve = o.Page.Addr != ""
	for _, arg := range args {
		switch {
		case o.Page.Addr == pageAnywhere && strings.Contains(arg, ":"):
			o.Page.Addr = arg
		case o.Practice == practice.Fresh:
			o.Practice = arg
		default:
			return hint.Usagef("%q: live takes no argument but the name of a practice bike, after --practice, "+
				"and an address, after --page", arg)
		}
	}
	if o.Page.Addr == pageAnywhere {
		o.Page.Addr = ""
	} else if o.Page.Serve && !isAddress(o.Page.Addr) {
		return hint.Usagef("--page %q is no address and port; as 192.168.1.5:8000, or :8000 for every address; a "+
			"port is from 1 to 65535", o.Page.Addr)
	}
	return nil
}

// isAddress reports whether a text is an address and a port; a port of 0 is any that is free.
func isAddress(text string) bool {
	_, port, err := net.SplitHostPort(text)
	if err != nil {
		return false
	}
	_, err = strconv.ParseUint(port, 10, 16)
	return err == nil
}

// checkLive refuses flags that don't go together.
func checkLive(o *job.LiveOptions) error {
	switch {
	case o.Auto && o.Practice == "":
		return hint.Usagef("--auto turns the screws of the practice engine: it goes with --practice")
	case o.Page.Anew && !o.Page.Serve:
		return hint.Usagef("--new-address is for the page for phones: it goes with --page")
	case o.Page.Serve && o.JSON:
		return hint.Usagef("--page shows what the screen or the plain lines show: it doesn't go with --json")
	case o.EveryCycle && !o.JSON:
		return hint.Usagef("--every-cycle goes with --json")
	}
	o.At = strings.ToLower(o.At)
	if _, ok := view.ParseStep(o.At); o.At != "" && !ok {
		return hint.Usagef("--at %q is no step; there are %s%s", o.At, strings.Join(view.StepIDs(), ", "),
			plain.IsMeant(o.At, view.StepIDs()))
	}
	if at, _ := view.ParseStep(o.At); o.Auto && o.At != "" && at != view.StepLevel {
		return hint.Usagef("--auto levels the bank: it goes with --at level alone, not with --at %s", o.At)
	}
	return checkPlace(o.Practice, o.Port)
}
