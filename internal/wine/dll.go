package wine

import (
	"bytes"
	"debug/pe"
	"encoding/binary"
)

// Of the file that randomDLL writes, in bytes; the smallest that the format allows.
const (
	fileUnit    = 0x200  // to which parts of the file are filled up
	memoryUnit  = 0x1000 // to which they are in memory
	dosHeader   = 64     // of which only the first two bytes and the last four count
	dataEntries = 16     // of the optional header's table
)

// exportTable is the first part of a library's exports, by Microsoft's "PE Format", the .edata section.
// Addresses count from where the library is loaded.
type exportTable struct {
	Flags, Time                    uint32
	Major, Minor                   uint16
	Name, Base, Functions, Names   uint32
	Addresses, NamesAt, OrdinalsAt uint32
	Address, NameAt                uint32 // of the one function: forwarded, its address is that of a text
	Ordinal                        uint16
}

// randomDLL is a library bcryptprimitives for x86-64 whose one function, ProcessPrng, is that of another
// one: without it no Go program starts, and Wine 8.0 has none. It holds no code.
func randomDLL() []byte {
	exports := exportSection(memoryUnit, "bcryptprimitives.dll", "ProcessPrng", "advapi32.SystemFunction036")
	var file bytes.Buffer
	put := func(parts ...any) {
		for _, part := range parts {
			binary.Write(&file, binary.LittleEndian, part) // never fails on a buffer
		}
	}
	fill := func() { file.Write(make([]byte, -file.Len()&(fileUnit-1))) }
	put([]byte("MZ"), make([]byte, dosHeader-6), uint32(dosHeader), []byte("PE\x00\x00"))
	optional := pe.OptionalHeader64{
		Magic: 0x20b, SizeOfInitializedData: fileUnit, ImageBase: 0x1_8000_0000,
		SectionAlignment: memoryUnit, FileAlignment: fileUnit, MajorOperatingSystemVersion: 6, MajorSubsystemVersion: 6,
		SizeOfImage: 2 * memoryUnit, SizeOfHeaders: fileUnit,
		Subsystem: pe.IMAGE_SUBSYSTEM_WINDOWS_CUI, DllCharacteristics: pe.IMAGE_DLLCHARACTERISTICS_NX_COMPAT,
		SizeOfStackReserve: 1 << 20, SizeOfStackCommit: 1 << 12, SizeOfHeapReserve: 1 << 20, SizeOfHeapCommit: 1 << 12,
		NumberOfRvaAndSizes: dataEntries,
	}
	optional.DataDirectory[pe.IMAGE_DIRECTORY_ENTRY_EXPORT] = pe.DataDirectory{VirtualAddress: memoryUnit,
		Size: uint32(len(exports))}
	put(pe.FileHeader{Machine: pe.IMAGE_FILE_MACHINE_AMD64, NumberOfSections: 1,
		SizeOfOptionalHeader: uint16(binary.Size(optional)), Characteristics: pe.IMAGE_FILE_EXECUTABLE_IMAGE |
			pe.IMAGE_FILE_LARGE_ADDRESS_AWARE | pe.IMAGE_FILE_DLL}, optional)
	put(pe.SectionHeader32{Name: [8]byte{'.', 'e', 'd', 'a', 't', 'a'}, VirtualSize: uint32(len(exports)),
		VirtualAddress: memoryUnit, SizeOfRawData: fileUnit, PointerToRawData: fileUnit,
		Characteristics: pe.IMAGE_SCN_CNT_INITIALIZED_DATA | pe.IMAGE_SCN_MEM_READ})
	fill()
	put(exports)
	fill()
	return file.Bytes()
}

// exportSection exports one function of a library under a name, as that of another library; at is where
// the section is loaded.
func exportSection(at uint32, library, function, forward string) []byte {
	var t exportTable
	texts := at + uint32(binary.Size(t))
	t = exportTable{
		Base: 1, Functions: 1, Names: 1,
		Name: texts, NameAt: texts + uint32(len(library)) + 1,
		Addresses: at + 40, NamesAt: at + 44, OrdinalsAt: at + 48, // where Address, NameAt and Ordinal are in the table
	}
	t.Address = t.NameAt + uint32(len(function)) + 1
	var section bytes.Buffer
	binary.Write(&section, binary.LittleEndian, t)
	section.WriteString(library + "\x00" + function + "\x00" + forward + "\x00")
	return section.Bytes()
}
