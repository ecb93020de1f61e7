//go:build !linux

package store

import "os"

// birthOf says when a file was made; it is not known here.
func birthOf(string) string { return "" }

// dataSync waits until the contents of f are on the disk.
func dataSync(f *os.File) error { return f.Sync() }
