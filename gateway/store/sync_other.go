//go:build !linux

package store

import "os"

// dataSync waits until the contents of f are on the disk.
func dataSync(f *os.File) error { return f.Sync() }
