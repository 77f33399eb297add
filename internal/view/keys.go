package view

import (
	"slices"
	"strings"
	"time"

	"evendraw/internal/bikeform"
	"evendraw/internal/garage"
	"evendraw/internal/hoses"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
)

// Names of keys that are no letters. The space bar is " ".
const (
	KeyEscape    = "escape"
	KeyCtrlC     = "ctrl-c"
	KeyCtrlZ     = "ctrl-z"
	KeyEnter     = "enter"
	KeyBackspace = "backspace"
	KeyLeft      = "left"
	KeyRight     = "right"
	KeyUp        = "up"
	KeyDown      = "down"
	KeyTab       = "tab"
	KeyPageUp    = "page up"
	KeyPageDown  = "page down" // what a presenter in the hand sends for "next" (common practice, no source)
)

// pageLines is how many lines Page Up and Page Down move on. Chosen: less than the lowest window shows.
const pageLines = 8

// key does what a key means.
func (v View) key(k string) View {
	switch {
	case k == KeyCtrlC:
		v.want(Want{Kind: Interrupt})
	case k == KeyCtrlZ:
		v.want(Want{Kind: Suspend})
	case v.types(k):
	case v.Recording && strings.Contains("zsmfdui", k):
		v.note("A recording is shown: nothing can be zeroed, saved or changed.", Plain)
	case k == KeyPageUp || k == KeyPageDown:
		return v.turnPage(k)
	case v.listKey(k) || v.pageKey(k) || v.flowKey(k) || v.jobKey(k):
		v.hold.acted = v.Now
	case v.Practice != nil:
		v.practiceKey(k)
	}
	return v
}

// turnPage moves through what is longer than the window. It answers nothing that stands on a list or a page of its
// own; beside the running engine Page Down is a presenter's "next", and does as Enter.
func (v View) turnPage(k string) View {
	if n := v.listLength(); n > 0 {
		lines := map[string]int{KeyPageUp: -pageLines, KeyPageDown: pageLines}[k]
		v.Cursor = min(max(v.Cursor+lines, 0), n-1)
	} else if k == KeyPageDown && v.Page == PageStep && !v.Flow.Off && v.Flow.At.live() {
		return v.key(KeyEnter)
	}
	return v
}

// pageKey handles the keys that choose a page, and reports whether k is one.
func (v *View) pageKey(k string) bool {
	page, ok := map[string]Page{"?": PageHelp, "h": PageHelp, "w": PageWaves, "r": PageRig, "o": PageSteps,
		"u": PagePhone}[k]
	switch {
	case page == PagePhone && v.Phone == nil:
		v.note("No page is served: evendraw live --page begins with one.", Plain)
	case !ok || page == PageSteps && v.Flow.Off:
		return v.leaveKey(k)
	case v.Page != page && v.mustStop():
		v.note("Stop the engine first. The key "+k+" works after that.", Warn)
	default:
		if v.Page == page {
			page = PageStep
		}
		v.open(page)
		v.Alone = false
	}
	return true
}

// leaveKey handles the keys that leave a page, or the job, and reports whether k is one.
func (v *View) leaveKey(k string) bool {
	switch {
	case k == "a":
		v.Alone = !v.Alone
		v.open(PageStep)
	case k == KeyEscape, k == "q" && v.Page == PageHelp: // not the job: an arrow key may come in pieces, Escape first
		v.open(PageStep)
		v.Alone = false
	case k == "q":
		v.leave(v.Flow.At)
		v.want(Want{Kind: Quit})
	default:
		return false
	}
	return true
}

// open opens a page, with a line in hand of its own: that of the step's page stays.
func (v *View) open(page Page) {
	if v.Page == PageStep {
		v.under = v.Cursor
	}
	switch v.Page = page; page {
	case PageStep:
		v.Cursor = v.under
	case PageSteps:
		v.Cursor = int(v.Flow.At)
	case PageHelp, PageRig:
		v.Cursor = 0
	}
}

// listKey handles the keys of a page that is a list, and reports whether k is one.
func (v *View) listKey(k string) bool {
	n := v.listLength()
	if n == 0 {
		return false
	}
	v.Cursor = min(max(v.Cursor, 0), n-1)
	switch {
	case v.Page == PageHelp || v.Page == PageRig: // scrolled, by the line that stands first
		by := map[string]int{KeyDown: 1, KeyUp: -1}[k]
		v.Cursor = min(max(v.Cursor+by, 0), n-1)
		return by != 0
	case k == KeyDown || k == KeyTab:
		v.Cursor = (v.Cursor + 1) % n
	case k == KeyUp:
		v.Cursor = (v.Cursor + n - 1) % n
	case v.Page == PageSteps && (k == KeyEnter || k == " "):
		v.choose(Step(v.Cursor))
	case v.Page == PageSteps:
		return false
	case v.Flow.At == StepBike && (k == KeyEnter || k == " "):
		v.takeBikeLine()
	case v.Flow.At == StepChecks:
		return v.checkKey(k)
	default:
		return false
	}
	return true
}

// isFound reports whether a pilot screw is done with.
func isFound(p mixture.Pilot) bool { return p.Found.Final() }

// allAnew asks before what was found of pilot screws is dropped.
const allAnew = "All pilot screws anew, what was found of them dropped? y = again."

// allSeen asks before checks that were not read are answered.
const allSeen = "All seen to, read or not? = again."

// checkKey answers the check in hand, or all that are open, and reports whether k is a key for
// that. The last answer ends the step.
func (v *View) checkKey(k string) bool {
	switch {
	case k == " ", k == KeyEnter && v.anyOpen():
		v.tickCheck(garage.TickDone)
	case k == "-":
		v.tickCheck(garage.TickNotNeeded)
	case k == "!":
		v.tickCheck(garage.TickLeft)
	case k == "=" && v.answered != allSeen:
		v.note(allSeen, Warn)
		return true
	case k == "=":
		v.Ticks = garage.WithAnswers(v.Ticks, v.Checks, v.Now, garage.TickDone)
	default:
		return false
	}
	if !v.anyOpen() {
		v.finish()
	}
	return true
}

// listLength is how many lines the page's list has, 0 when it is none.
func (v *View) listLength() int {
	switch {
	case v.Page == PageSteps:
		return int(stepCount)
	case v.Page == PageHelp:
		return v.Cursor + len(v.helpPage())
	case v.Page == PageRig:
		t := v.rigTable()
		return v.Cursor + len(t.Rows) - 1 + len(t.Below)
	case v.Page != PageStep || v.Flow.Off:
		return 0
	case v.Flow.At == StepBike:
		return len(v.Bikes) + 2
	case v.Flow.At == StepChecks:
		return len(v.Checks)
	}
	return 0
}

// flowKey handles the keys that move through the job, and reports whether k is one.
func (v *View) flowKey(k string) bool {
	if v.Flow.Off {
		return false
	}
	switch k {
	case KeyEnter, " ":
		asked := v.Cold && v.Flow.At.live() && !v.nutAsked() || v.Flow.At == StepWarm
		said := v.turning() && v.Page == PageStep && asked
		if v.confirm(); said {
			v.Cold, v.warmth = false, garage.WarmthSaid
		}
	case "n":
		if v.snap().Zero.Running && v.age() <= staleAfter {
			v.note("The sensors are being zeroed: some seconds more.", Plain)
			break
		}
		v.Cold = v.Cold && !v.Flow.At.live()
		if v.Flow.At == StepWarm && v.warmth == "" {
			v.warmth = garage.WarmthPassed
		}
		v.mark("-")
		v.goTo(v.skipTo(), true)
	case "p", KeyBackspace:
		v.goBack()
	case "f":
		v.want(Want{Kind: ToggleFan})
	case "i":
		switch {
		case v.Bare.Port != "":
			return false // it is for the board
		case v.Flow.At != StepKeep:
			v.note("i makes the page in the step "+StepKeep.Name()+" (o goes there).", Plain)
		case len(v.Records) == 0 || v.Remark != "" && len(v.Records) == v.Flow.records: // none may hold that remark
			v.note("Save first (s): the page is of a record.", Warn)
		default:
			v.want(Want{Kind: PrintPage})
		}
	case "y":
		switch found := slices.ContainsFunc(v.snap().Tune.Pilots, isFound); {
		case v.Flow.At == StepPilots && found && v.answered != allAnew:
			v.note(allAnew, Warn)
		case v.Flow.At == StepPilots:
			v.want(Want{Kind: TrimAnew})
		case v.Flow.At == StepMatch && !v.snap().Match.Running:
			v.want(Want{Kind: StartMatch})
		}
	case "c":
		return v.askTurn()
	default:
		return k == "x" && v.putPilotsBack()
	}
	return true
}

// confirm takes the step at hand for done, or does what it asks for.
func (v *View) confirm() {
	switch {
	case v.Page != PageStep:
		v.open(PageStep)
	case (v.Flow.At <= StepMatch || v.asksIdle()) && v.Now.Sub(v.Flow.came) < readTime:
		v.note("That Enter was for the step before.", Plain)
	case v.Flow.At == StepZero && !v.snap().Zero.Zeroed:
		v.startZero()
	case v.Flow.At == StepMatch && !v.matched() && !v.snap().Match.Running:
		v.want(Want{Kind: StartMatch})
	case v.Flow.At == StepMatch && v.onePort():
		v.note("Stop the engine first, then each hose on its own port.", Warn)
	case v.Flow.At == StepKeep && len(v.Records) > v.Flow.records:
		v.note("Saved already; s saves once more, as it was read last.", Plain)
	case v.Flow.At == StepKeep:
		v.save()
	case v.asksIdle():
		v.Entry = &Entry{For: EntryIdleOnly, Prompt: bikeform.AskIdle.Text, Text: bikeform.CommonIdle, offered: true}
	case v.Flow.At == StepPilots && v.snap().Tune.Trim == nil && !v.pilotsDone() && !v.pilotFits():
		v.note("Too little idling is left for a screw: let the engine cool first.", Warn)
	case v.Flow.At == StepPilots && v.snap().Tune.Trim == nil && !v.pilotsDone() && !v.turning():
		v.note("Start the engine first: whether the bank is level is seen then. Then Enter.", Plain)
	case v.Flow.At == StepPilots && v.snap().Tune.Trim == nil && !v.pilotsDone():
		v.want(Want{Kind: TrimPilots})
	case v.Flow.At == StepPilots && v.Snap.Tune.Trim != nil && v.Snap.Tune.Trim.Step != mixture.StepAllSet:
		if v.age() > staleAfter {
			v.note("Nothing comes from the board: Enter counts once its figures are back.", Warn)
			return
		}
		v.want(Want{Kind: TrimMade})
	case v.Flow.At == StepPilots && v.unlevel():
		v.goTo(StepLevel, true)
		v.note("The trim has moved the balance: level once more.", Warn)
	case v.nutLately():
		v.want(Want{Kind: NutTight})
		v.note("That nut counts as tight.", Plain)
	case v.asksNuts():
		v.want(Want{Kind: NutTight})
		v.note("Nut "+strings.Join(v.screwNames(v.reading().NutsUnsaid), ", nut ")+": counts as tight.", Plain)
		v.saved = false // the record, too, is to say so
	case v.Flow.At == StepLevel && v.unlevel() && v.Cold:
		v.note("Taken as warm.", Plain)
	case v.Flow.At == StepLevel && v.unlevel():
		v.note("A screw is still to be turned; n leaves the levelling.", Warn)
	case v.Flow.At == StepLevel && !v.turning() && v.nuts(false) != "":
		v.note("Once it runs again that nut is asked for: Enter then says that it is tight.", Plain)
	case !v.enterEnds() && v.Cold: // it is warm
	case !v.enterEnds():
		v.note(noEnter, Plain)
	default:
		v.finish()
	}
}

// enterEnds reports whether the step at hand is done, or asks for Enter when it is.
func (v *View) enterEnds() bool {
	r := v.reading()
	if v.Flow.At.live() && v.Flow.At < StepPilots && (!v.turning() || v.mustStop() || v.overrides(&r.Advice)) {
		return false
	}
	switch v.Flow.At {
	case StepRig:
		return v.rigGood()
	case StepZero:
		return !v.snap().Zero.Running
	case StepMatch:
		return !v.snap().Match.Running
	case StepHoses:
		return r.Hoses.Verdict != hoses.Exchanged || r.HosesAside
	case StepLevel, StepBlip:
		return levelled(&r.Advice)
	case StepIdle:
		return v.done(StepIdle)
	case StepRaised:
		s := v.snap().Tune.Raised
		return s != nil && s.Done && !v.raced()
	}
	return true
}

// pilotsDone reports whether every pilot screw is done with.
func (v *View) pilotsDone() bool {
	pilots := v.snap().Tune.Pilots
	return len(pilots) > 0 && !slices.ContainsFunc(pilots, func(p mixture.Pilot) bool { return !isFound(p) })
}

// save asks for a record.
func (v *View) save() {
	if !v.read && !session.Usable(v.reading()) {
		v.note("Nothing to save yet: no cycle has been read on every cylinder.", Warn)
		return
	}
	if v.raced() {
		v.note("Not saved: let go of the throttle. A record is of the idle.", Warn)
		return
	}
	if v.Now.Sub(v.savedAt) < saveSeconds*time.Second {
		return // one press is one record
	}
	v.savedAt = v.Now
	v.want(Want{Kind: Save, Text: v.warmth})
}

// jobKey handles the keys of every step, and reports whether k is one.
func (v *View) jobKey(k string) bool {
	switch k {
	case "k":
		v.Unit = v.Unit.Next()
	case "s":
		v.save()
	case "z":
		v.startZero()
	case "g":
		v.goPast()
	case "m":
		v.Entry = &Entry{For: EntryRemark, Prompt: "Remark for the record", Text: v.Remark}
	case "l":
		v.watchAir()
	case "d":
		if v.NoRoom.Why == "" {
			return false
		}
		v.Entry = &Entry{For: EntryFolder, Prompt: "Folder for the records", Text: v.NoRoom.Offer, offered: true}
	case "i":
		if v.Bare.Port == "" || v.Bare.Busy {
			return false
		}
		v.want(Want{Kind: Install})
	case "0":
		v.ByMean = true
	case "1", "2", "3", "4":
		v.ByMean = false
		v.want(Want{Kind: SetReference, Cylinder: int(k[0] - '0')})
	default:
		return false
	}
	return true
}
