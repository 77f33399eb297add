// Package store puts files on a disk so that a kill, a power cut, a full disk or a second program
// leaves the old file or the new one, never anything between. It knows nothing of what is in them.
//
// What comes in: a path and the bytes that are to be there. What goes out: nil, or an Error that
// names the file and says whether it is as it was. Begin with Store, whose methods write:
//
//	Replace  puts bytes in the place of a file
//	Edit     changes a file from what it holds, under a lock
//	Write    puts what is written in the place of a file that a user has named
//	Make     the same in a folder that is there, and looks at it first
//	SaveNew  writes a file of a new name that sorts by time, and never overwrites one
//	Remove   takes a file away
//	SetAside moves a damaged file into a folder beside it
//	Sweep    removes what killed programs left
//
// Reading needs no Store: Read, ReadIfThere, Open and List, which reads a whole folder. Seal and Unseal put a checksum
// at a file's end and look at it; FolderName, BaseName and IsReserved keep to what all file systems take for a name.
//
// How a file is written: a temporary file in the same folder, write, fsync, close, rename, fsync of the folder. It is
// our own because github.com/google/renameio does without Windows and without the fsync of the folder, and leaves
// temporary files nobody sweeps. A file whose fsync failed is never synced again, because the kernel may have dropped
// its data and say "done" the second time: every try has a new temporary file.
//
// Tests put a Files of their own into a Store: one that fails, one that dies, one that records.
package store
