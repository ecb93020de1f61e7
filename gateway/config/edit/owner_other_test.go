//go:build !unix

package edit

import "testing"

func ownerOf(*testing.T, string) int { return 65534 }
