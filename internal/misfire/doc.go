// Package misfire finds charges that did not burn, and cylinders that never fire, in the spacing of an engine's beats.
//
// In: a Cycle for each engine cycle, with the moments of its beats. A beat is the moment of a cylinder's intake flank:
// when the pressure passes the middle of its fall. Beats are the crank's clock, a tick for each cylinder, also behind
// hoses. Out: whose misfires came to light. Begin reading at Watch.Push.
//
// A charge that doesn't burn gives no push: the crank is slower after it than before, which shows in the
// beats of all cylinders (beats.go), while the pushes on either side come as usual. The cylinder's own dip,
// half a cycle later, is shallower by as much as the gas left in it is cooler, which may be nothing. A
// throttle that shuts slows the crank after every push; that is no misfire.
//
// Which push was missing shows where a beat lies between it and the next one. A twin that fires unevenly has both in
// the long gap between its beats: how the crank goes between them is what is left of that time. Where two of more
// cylinders push between the same two beats, it is told that it was one of them (Watch.Either). Beats that come early
// or late by themselves, as in hoses whose air swings, leave the cycles as long as they were (longer.go).
//
// A cylinder that never fires changes nothing from cycle to cycle. It leaves the crank slower after its push in the
// mean. But so it looks, too, where a hose's lag is fitted wrong, where its air swings, and where pulses of unlike
// draws stand behind long hoses: a beat that always stands off its place is a property of its hose. The sign that no
// hose gives is that its push doesn't scatter as the others' do; it takes some seconds, and where all scatter too
// little for combustion, nobody is told not to fire.
//
// One that stops firing while the engine runs has the speed drop at once, and all draw less (drop.go, Watch.Fell).
package misfire
