package gateway

import (
	"path/filepath"
	"testing"

	"telltale/alarms/tongue"
)

// What a person is told is in their language, else in that of the garden.
func TestEachPersonHasALanguage(t *testing.T) {
	c, err := read(`
[words]
language = "de"
[house.long-house]
day-from = "06:00"
day-to = "18:00"
[house.long-house.place.bench]
[probe.bench-1]
place = "long-house/bench"
topic = "bench"
temperature = {}
[channel.horn]
kind = "command"
run = ["/bin/true"]
[person.ada]
channels = ["horn"]
[person.ben]
channels = ["horn"]
language = "en"
[[tell]]
people = ["ada", "ben"]
`, filepath.Join(t.TempDir(), "store"))
	ok(t, err)
	r := rulesOf(c)
	for person, want := range map[string]tongue.Tongue{"ada": tongue.German, "ben": tongue.English, "nobody": tongue.German} {
		if got := r.LocaleOf(person).Tongue; got != want {
			t.Errorf("%s is told in %s, want %s", person, got.Name(), want.Name())
		}
	}
}
