// Package bank describes a bank of carburettors: its cylinders, the firing order, and the linkage,
// that is which screw moves which butterflies. It is plain data with its checks. In: what a card says.
// Out: a Bank that makes sense, or why it doesn't.
//
// Cylinders count from 1, from the seated rider's left. Begin with Default, the usual bank of two, three or four, or
// fill in a Bank and ask Check whether it makes sense. A linkage makes sense when its screws can bring all cylinders
// level in one way only: with a row for each cylinder, a column of 0 and 1 for each screw, and a last column of ones
// for the throttle stop, which moves all, the matrix has full rank.
package bank
