package copies

import "os"

// sample is all with TELLTALE_THOROUGH=1, else few.
func sample(few, all int) int {
	if os.Getenv("TELLTALE_THOROUGH") == "1" {
		return all
	}
	return few
}
