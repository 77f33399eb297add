// Package airleak listens for an air leak while its joints are wetted.
//
// In: cycle.Spans. Out: a State after each. Water that shuts a leak takes air from one cylinder at once while nothing
// is turned: its refill is slower, the others' stay. What is usual is learned from the last cycles; a lack is a fall
// of the mean of a few beyond their own scatter. Several that change, or one that gains, say that something was
// turned. Begin reading at Watch.Push.
package airleak
