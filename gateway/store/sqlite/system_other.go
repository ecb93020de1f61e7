//go:build !linux

package sqlite

import "os"

// BirthOf says when a file was made; it is not known here.
func BirthOf(string) string { return "" }

// DataSync waits until the contents of f are on the disk.
func DataSync(f *os.File) error { return f.Sync() }

// MemoryFor names the folder of the index of the WAL of a database in shared
// memory: there is none here, and the rest is not asked for.
func MemoryFor(os.FileInfo) string { return "" }

func sameOwner(os.FileInfo, os.FileInfo) bool { return false }

func giveTo(string, os.FileInfo) error { return nil }

func mapped(string) bool { return false }
