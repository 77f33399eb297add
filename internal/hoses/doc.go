// Package hoses says whether the hoses sit on the cylinders that they should.
//
// In: where in the cycle each channel dips, and when each cylinder fires, degrees of crank. Out: an Order, with the
// pairs of hoses that are exchanged, those that would look the same, and those on one port. All orders of the
// cylinders are tried, each turned by the angle that fits best; the best must fit and lead the next by enough. Dips
// gathers them from cycles. Begin reading at PulseOrder.
package hoses
