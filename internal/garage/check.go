package garage

// Check reads all cards and records of the garage and returns how many files
// it read, and the errors of those that are damaged. Captures have no checksum
// and are not read.
func (g *Garage) Check() (checked int, damaged []*Error) {
	bikes, wrong := g.ListBikes()
	checked, damaged = len(bikes)+len(wrong), wrong
	folders, _ := g.bikeFolders() // ListBikes has told of an error
	for _, folder := range folders {
		records, wrong := listSyncs(g.bikePaths(folder).Syncs)
		checked, damaged = checked+len(records)+len(wrong), append(damaged, wrong...)
	}
	boards, wrong := g.ListBoards()
	checked, damaged = checked+len(boards)+len(wrong), append(damaged, wrong...)
	name, err := g.LastBike()
	if name != "" || err != nil {
		checked++
	}
	if err != nil {
		damaged = append(damaged, asError(g.Paths().Last, err))
	}
	return checked, damaged
}
