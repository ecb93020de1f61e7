// Package walk has the walks along a list that package slices leaves out.
package walk

// Each is what of gives for each of all, in their order; nil where there is none.
func Each[T, V any](all []T, of func(T) V) []V {
	var out []V
	for _, one := range all {
		out = append(out, of(one))
	}
	return out
}

// Find is the first of all that is meant, in its place; nil where there is none.
func Find[T any](all []T, meant func(*T) bool) *T {
	for i := range all {
		if meant(&all[i]) {
			return &all[i]
		}
	}
	return nil
}
