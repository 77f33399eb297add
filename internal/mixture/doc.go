// Package mixture sets what comes after levelling: the idle speed by the
// throttle stop, the pilot screws one by one for the highest idle speed, and a
// look at the bank at a raised speed. It holds no wording, only kinds.
//
// IdleSpeed, Trim and Raised are stages: Push takes spans, and gives a state
// with the one thing to do next.
package mixture
