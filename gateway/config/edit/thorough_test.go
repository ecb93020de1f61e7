package edit

import "os"

// thorough asks for the whole of what is else tried by a sample.
var thorough = os.Getenv("TELLTALE_THOROUGH") != ""

// sample is how many of all are tried.
func sample[N int | int64 | uint64](few, all N) N {
	if thorough {
		return all
	}
	return few
}
