// Package pilotwords holds what the screen, plain lines and the end of a run say of pilot screws beside the advice: a
// setting, how a screw's trim stands or ended, what that points to, which screws stand in a trial position, and what a
// lambda probe tells. In come mixture's states, out come sentences. Begin with Result.
package pilotwords
