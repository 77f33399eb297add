// Package keep decides when levelling records are kept, and where.
//
// In: the snapshots of a run, and what the user says of it. Out: records, unfinished ones, and what was learned of
// screws and hand, in the garage or, where that can't take them, in another folder; and what is said of them.
//
// Begin with New and Keeper.Save. record.go fills in a record, pilots.go what stands in it of the stages after
// levelling; elsewhere.go is about a full disk.
package keep
