// Package garage keeps the user's memory as plain files: bikes, boards, bench cards, pre-start
// checks and a record of every synchronisation; and it says what the records say together.
//
// What comes in: a bike's name or a board's serial, and what is to be kept. What goes out: the same
// again, or an Error that names the file, the line and the field. Begin with Open, which gives a
// Garage; LoadBike, LoadBoard and SaveSync are what most callers want. Then read bike.go, board.go,
// sync.go with syncfile.go, sealed.go and stored.go. export.go makes tables of records, trend.go says what they show
// together, place.go and heat.go remember where the job stood and how hot it was.
//
// The layout, below the garage's own folder:
//
//	bikes/NAME/bike.toml      the bike card, edited by hand as well
//	bikes/NAME/syncs/*.level  levelling records (.sync of earlier versions), one file each, never rewritten
//	bikes/NAME/bench/*.bench  bench cards, one file each, never rewritten
//	bikes/NAME/bench/*.checks ticked pre-start checks, likewise
//	bikes/NAME/unfinished/    records of runs that go on, or were cut off
//	bikes/NAME/captures/      the captures that belong to the bike, *.cap or packed, *.cap.gz
//	boards/SERIAL.toml        the board card, edited by hand as well
//	last                      the name of the bike used last
//	place                     where the job stood last
//	heat/NAME                 how hot that bike was when its engine stopped
//	page                      the token in the address of the page for phones
//
// Cards are TOML, which people edit: package card reads them and changes the few values that change in their text. All
// else is JSON under a checksum, and never changed once it is there. Package store puts both on the disk. A damaged
// record, sheet or list of checks is set aside into a folder "damaged" beside it; nothing is deleted. Two garages
// become one by copying one over the other, and two programs may share one.
//
// Every file carries a format number: older ones are read for ever, newer ones refused with a word on why.
package garage
